//! The page: whole, safe to open, and telling what the run holds.

use std::collections::BTreeSet;

use spurline_record::{Decision, Event, EventKind, Outcome, RunState};
use spurline_report::html;
use spurline_units::Seconds;

mod drawn;
mod specimen;

use drawn::{assert_sound, drawings};

/// The tags of a page outside its drawings, each with the names of its attributes.
fn tags(page: &str) -> Vec<String> {
    let mut outside = page.to_owned();
    for drawing in drawings(page) {
        outside = outside.replacen(drawing, "", 1);
    }
    outside
        .split('<')
        .skip(1)
        .map(|tag| {
            let tag = &tag[..tag.find('>').expect("a tag ends")];
            // What stands between quotes are values.
            tag.split('"').step_by(2).collect::<String>()
        })
        .collect()
}

/// The values of an attribute.
fn values<'p>(page: &'p str, attribute: &str) -> Vec<&'p str> {
    let opening = format!(" {attribute}=\"");
    page.split(opening.as_str()).skip(1).map(|rest| &rest[..rest.find('"').expect("a value ends")]).collect()
}

#[test]
fn what_instruments_and_files_say_stays_text() {
    let hostile = html(&specimen::saying(&specimen::hostile()).view()).unwrap();
    let plain = html(&specimen::saying("plain").view()).unwrap();
    assert_eq!(tags(&hostile), tags(&plain));
    assert!(!hostile.contains("<script") && hostile.contains("&#60;script&#62;"));
    assert!(hostile.chars().all(|c| c == '\n' || !c.is_control()), "a control character came through");
    assert!(!hostile.contains('\u{202e}'), "the direction of the text can be turned");
    assert_sound(&hostile);
    for drawing in drawn::figures(&hostile, "levels").iter().chain(&drawn::figures(&hostile, "setup")) {
        drawn::assert_legible(drawing);
    }
}

#[test]
fn the_page_loads_nothing_and_runs_nothing() {
    let page = html(&specimen::run().view()).unwrap();
    for word in ["http:", "https:", "src=", "url(", "@import", "<script", "<link", "onload"] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn every_link_leads_to_one_place_in_the_page() {
    let page = html(&specimen::run().view()).unwrap();
    let ids = values(&page, "id");
    assert_eq!(ids.len(), ids.iter().collect::<BTreeSet<_>>().len(), "an id is there twice: {ids:?}");
    let links = values(&page, "href");
    for link in &links {
        let id = link.strip_prefix('#').expect("a link stays in the page");
        assert!(ids.contains(&id), "{link}");
    }
    for number in 1..=12 {
        for id in [format!("reading-{number}"), format!("detail-{number}")] {
            assert!(links.contains(&format!("#{id}").as_str()), "{id}");
        }
    }
}

#[test]
fn the_summary_says_what_matters() {
    let mut run = specimen::run();
    let page = html(&run.view()).unwrap();
    for words in [
        "✗ exceeds",
        "At least one reading is above its limit",
        "Simulated bench, seed 7: not evidence about a real transmitter",
        "✗ 1 exceeds",
        "! 1 invalid",
        "? 4 undecided",
        "✓ 5 complies",
        "– 1 no limit",
        "-3.78 dB: <a href=\"#reading-3\">reading 3</a>, harmonic 3 at 443.4 MHz, VHF high, 147.8 MHz, power high",
        "once, 4.25 s in total, 4.25 s at the longest",
        "47 CFR 97.307(e), eCFR issue 2026-09-23 (verified)",
        "complies: level + U &#60;= limit; exceeds: level - U &#62; limit; between: undecided",
        "complies: bound + U &#60;= limit; otherwise: undecided",
        "Levels are at the transmitter's connector",
        "the calibration of the analyser expired on 2026-10-01",
        "failed at the supply: no answer within 2 s; because: connection reset; advice: look at the cable",
        "the unit was warm",
        "≤ -35.81 dBm",
        "52.85 dB below the carrier",
        "The analyser reported: overload",
        "plan: fh.yaml",
    ] {
        assert!(page.contains(words), "{words}");
    }
    run.header.simulated = None;
    assert!(!html(&run.view()).unwrap().contains("Simulated"));
}

#[test]
fn what_does_not_comply_comes_first_and_the_gravest_before_the_rest() {
    let page = html(&specimen::run().view()).unwrap();
    let summary = &page[page.find("id=\"summary\"").unwrap()..page.find("id=\"set-up\"").unwrap()];
    let listed = values(summary, "href");
    assert_eq!(
        listed,
        [
            // What does not comply.
            "#reading-3",
            "#reading-5",
            "#reading-7",
            "#reading-4",
            "#reading-8",
            "#reading-10",
            // The worst of each kind, and the smallest margin.
            "#reading-3",
            "#reading-1",
            "#reading-3"
        ]
    );
    let mut run = specimen::run();
    run.readings.retain(|reading| reading.outcome == Outcome::Complies);
    assert!(html(&run.view()).unwrap().contains("No reading exceeds, is invalid or is undecided."));
}

/// A look whose sweeps were taken out of the record says so in place of an empty drawing.
#[test]
fn a_pruned_look_says_so() {
    let mut run = specimen::run();
    run.readings
        .iter_mut()
        .flat_map(|reading| &mut reading.acquisitions)
        .for_each(|look| look.sweeps.clear());
    let page = html(&run.view()).unwrap();
    let detail = &page[page.find("id=\"detail-3\"").unwrap()..page.find("id=\"detail-4\"").unwrap()];
    assert!(
        detail.contains("No drawing: the levels of its sweeps were taken out of the record."),
        "{detail}"
    );
    assert!(detail.contains("<dd>of 50 ms, taken out of the record</dd>"), "{detail}");
    let sheet = spurline_report::sheet(&run.header, &run.readings[2]);
    let sheet = sheet.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(sheet.contains("were taken out of the record: the raw figure below"), "{sheet}");
    assert!(
        sheet.contains("sweeps of 50 ms, taken out of the record") && !sheet.contains("0 sweeps"),
        "{sheet}"
    );
}

#[test]
fn a_reading_can_be_redone_with_a_pencil() {
    let page = html(&specimen::run().view()).unwrap();
    let detail = &page[page.find("id=\"detail-3\"").unwrap()..page.find("id=\"detail-4\"").unwrap()];
    for words in [
        "shown by the analyser</td><td class=\"n\">-48.420 dBm",
        "noise taken off</td><td class=\"n\">-0.240 dB",
        "loss of pad-30.s2p</td><td class=\"n\">+30.040 dB",
        "whole loss 36.420 dB</td><td class=\"n\">-12.240 dBm",
        "49.07 dB below the carrier of reading 1",
        "level + U = -12.240 + 0.611 = -11.629 dBm is above the limit -16.020 dBm",
        "level - U = -12.240 - 0.611 = -12.851 dBm is above the limit -16.020 dBm",
        "So by this arithmetic: exceeds",
        // 0.5 dB rectangular is 0.289 dB; with 0.1 dB that is 0.306 dB, of which it is 89.3 % by its square.
        "rectangular</td><td class=\"n\" data-label=\"divisor\">1.732</td><td class=\"n\" data-label=\"standard u\">0.289 dB</td><td class=\"n\" data-label=\"share of u²\">89.3 %",
        "normal, k = 2</td><td class=\"n\" data-label=\"divisor\">2.000</td><td class=\"n\" data-label=\"standard u\">0.100 dB</td><td class=\"n\" data-label=\"share of u²\">10.7 %",
        "0.0933 dB²</td><td class=\"n\">0.306 dB",
        "U = 2 × 0.306 dB</td><td class=\"n\">0.611 dB",
        "limit -52.44 dBm here: limit less path loss 36.42 dB",
        "noise floor -74.92 dBm here",
        "marker -48.43 dBm at 443.4 MHz",
        "<dt>sweeps</dt><dd>5 of 50 ms</dd>",
    ] {
        assert!(detail.contains(words), "{words}");
    }
    assert!(!page.contains("not explained by this record"));
}

#[test]
fn a_limit_is_not_drawn_where_the_loss_of_another_way_would_be_needed() {
    let mut run = specimen::run();
    let detail = |page: &str| {
        page[page.find("id=\"detail-1\"").unwrap()..page.find("id=\"detail-2\"").unwrap()].to_owned()
    };
    // The carrier's level is the power meter's, and so is the path loss in its correction.
    assert!(!detail(&html(&run.view()).unwrap()).contains("here: limit less path loss"));
    run.readings[0].meter.clear();
    let by_analyser = detail(&html(&run.view()).unwrap());
    assert_eq!(by_analyser.matches("here: limit less path loss 36.16 dB").count(), 4, "two ends, two looks");
    assert!(by_analyser.contains("shown by the analyser"));
}

#[test]
fn the_simple_rule_is_written_without_u() {
    let mut run = specimen::run();
    run.header.decision = Decision::Simple;
    let page = html(&run.view()).unwrap();
    assert!(page.contains("complies: level &#60;= limit; exceeds: level &#62; limit"));
    assert!(page.contains("level = -12.240 dBm is above the limit -16.020 dBm"));
    assert!(!page.contains("level + U &#60;="));
}

#[test]
fn a_rule_that_was_not_read_in_its_source_says_so() {
    let mut run = specimen::run();
    for (status, caveat) in [
        ("second-hand", "from a text about the published one"),
        ("from-memory", "written down from memory"),
        ("odd", "Nothing says how the rule was read"),
    ] {
        run.header.rule_status = status.to_owned();
        assert!(html(&run.view()).unwrap().contains(caveat), "{status}");
    }
}

/// What the PDF has in its tables the page has as well.
#[test]
fn the_page_has_the_worst_of_each_kind_and_the_chance_that_a_limit_is_kept() {
    let mut run = specimen::run();
    run.readings[1].conformance_probability = Some(0.9123);
    let page = html(&run.view()).unwrap();
    let kinds =
        page.split("<h3>The worst of each kind</h3>").nth(1).unwrap().split("</table>").next().unwrap();
    let mut asked: Vec<_> = run.readings.iter().map(|one| (one.quantity, &one.derivation.source)).collect();
    asked.sort_by_key(|(quantity, source)| (quantity.name(), *source));
    asked.dedup();
    assert_eq!(kinds.matches("<td role=\"cell\" class=\"what\">").count(), asked.len(), "{kinds}");
    let first = kinds.split("<tr ").nth(2).unwrap();
    assert!(first.contains("exceeds"), "the worst comes first: {first}");
    assert!(page.contains("data-label=\"keeps it\">91.2 %</td>"), "{page}");
}

/// A note that is a reservation as well stands once among the deviations, and the budget becomes cards as every table does.
#[test]
fn what_stays_open_is_said_once() {
    let mut run = specimen::run();
    let open = "harmonics were looked for up to order 3 only".to_owned();
    run.header.notes.push(open.clone());
    run.header.reservations.push(open.clone());
    let page = html(&run.view()).unwrap();
    let part = page.split("<h3>Deviations").nth(1).unwrap().split("</ul>").next().unwrap();
    assert_eq!(part.matches(&open).count(), 1, "{part}");
    assert!(part.contains("Left open: harmonics") && part.contains("expired on 2026-10-01"), "{part}");
    let tables = page.matches("<table class=\"budget cards\">").count();
    assert!(tables > 0 && tables == page.matches("<table class=\"budget").count(), "{tables}");
}

#[test]
fn a_run_that_did_not_end_says_so() {
    let mut run = specimen::run();
    run.outcome = None;
    run.state = RunState::Running;
    run.events.push(Event {
        sequence: 9,
        at: specimen::at(40),
        kind: EventKind::KeyDown { lease: Seconds::new(20.0) },
    });
    let page = html(&run.view()).unwrap();
    assert!(page.contains("no outcome") && page.contains("has not come to its end"));
    assert!(page.contains("no key up recorded") && page.contains("of 1 no key up is recorded"));
    run.outcome = Some(Outcome::Complies);
    run.state = RunState::Interrupted;
    let page = html(&run.view()).unwrap();
    assert!(page.contains("the run did not go to its end"));
    assert!(page.contains("complies so far") && !page.contains("verdict good"));
    run.outcome = Some(Outcome::Exceeds);
    assert!(html(&run.view()).unwrap().contains("<b>✗ exceeds</b>"));
}

#[test]
fn a_run_without_readings_is_a_page_too() {
    let mut run = specimen::run();
    run.readings.clear();
    run.events.clear();
    run.instruments.clear();
    run.outcome = None;
    let page = html(&run.view()).unwrap();
    for words in ["Nothing was read.", "The unit was not keyed.", "No instrument answered."] {
        assert!(page.contains(words), "{words}");
    }
}
