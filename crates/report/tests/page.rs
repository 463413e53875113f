//! The page: whole, safe to open, and telling what the run holds.

use spurline_record::{Event, EventKind, Limit, Outcome, RunState};
use spurline_report::html;
use spurline_units::{Db, Dbm, Hertz, Seconds};

mod specimen;

/// The drawings of a page.
fn drawings(page: &str) -> Vec<&str> {
    page.match_indices("<svg")
        .map(|(at, _)| &page[at..at + page[at..].find("</svg>").expect("a drawing ends") + 6])
        .collect()
}

fn count(drawing: &str, class: &str) -> usize {
    let read = roxmltree::Document::parse(drawing).expect("a drawing is XML");
    read.descendants().filter(|node| node.attribute("class") == Some(class)).count()
}

/// Every number in an attribute of a drawing must read as a finite number.
fn assert_sound(page: &str) {
    for drawing in drawings(page) {
        let read = roxmltree::Document::parse(drawing).unwrap_or_else(|e| panic!("{e}: {drawing}"));
        for node in read.descendants() {
            for name in ["x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r"] {
                if let Some(number) = node.attribute(name) {
                    assert!(
                        number.parse::<f64>().expect("a number").is_finite(),
                        "{name}={number} in {drawing}"
                    );
                }
            }
            let path = node.attribute("d").unwrap_or_default();
            for number in path.split(['M', 'L', ' ']).filter(|number| !number.is_empty()) {
                assert!(number.parse::<f64>().expect("a number").is_finite(), "{number} in {path}");
            }
        }
    }
    for word in ["NaN", "Infinity"] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn every_drawing_is_well_formed() {
    let page = html(&specimen::run().view()).unwrap();
    assert_sound(&page);
    // Two scopes of two plots and five marks of the legend; eleven readings of two looks.
    assert_eq!(drawings(&page).len(), 2 * (2 + 5) + 11 * 2);
}

#[test]
fn a_plot_shows_each_reading_once() {
    let page = html(&specimen::run().view()).unwrap();
    for plot in &drawings(&page)[..2] {
        // Carrier and harmonics 2 to 10: two bounds, one without a figure.
        assert_eq!((count(plot, "stem"), count(plot, "stem bound")), (7, 2));
        assert_eq!((count(plot, "full"), count(plot, "open")), (7, 2));
        // Both ends of the window; one for each of 2 to 7 and 10; none for 9.
        assert_eq!((count(plot, "limit"), count(plot, "limit several")), (2 + 7, 2));
        assert_eq!(count(plot, "floor"), 8);
        assert_eq!((count(plot, "mark bad"), count(plot, "mark unsure")), (1, 4));
    }
}

#[test]
fn a_higher_level_is_drawn_higher_and_the_limit_between() {
    let page = html(&specimen::run().view()).unwrap();
    let plot = roxmltree::Document::parse(drawings(&page)[0]).unwrap();
    let heights = |class: &str, name: &str| -> Vec<f64> {
        plot.descendants()
            .filter(|node| node.attribute("class") == Some(class))
            .map(|node| node.attribute(name).unwrap().parse().unwrap())
            .collect()
    };
    let (dots, limits) = (heights("full", "cy"), heights("limit", "y1"));
    // Harmonic 2 complies, harmonic 3 exceeds: their dots lie on either side of the limit at -16.02 dBm.
    assert!(dots[1] > limits[2] && dots[2] < limits[2], "{dots:?} {limits:?}");
    // 20 dB are as high anywhere: 36.83 to -26.74 dBm is 63.567 dB, -12.24 to -26.74 dBm is 14.5 dB.
    let ratio = (dots[1] - dots[0]) / (dots[1] - dots[2]);
    assert!((ratio - 63.567 / 14.5).abs() < 0.03, "{ratio}");
}

#[test]
fn what_instruments_and_files_say_stays_text() {
    let evil = "<script>alert(1)</script>\"'&\u{1b}]0;x";
    let mut run = specimen::run();
    run.header.unit.serial = evil.to_owned();
    run.header.plan = evil.to_owned();
    run.header.notes = vec![evil.to_owned()];
    run.header.texts[0].name = evil.to_owned();
    run.instruments[0].identity.model = evil.to_owned();
    for reading in &mut run.readings {
        reading.scope.channel = evil.to_owned();
        reading.derivation.steps = vec![evil.to_owned()];
        reading.acquisitions.iter_mut().for_each(|look| look.purpose = evil.to_owned());
        reading.budget.iter_mut().for_each(|budget| budget.lines[0].source = evil.to_owned());
        if let Some(reason) = &mut reading.reason {
            reason.text = evil.to_owned();
        }
    }
    run.events.push(Event { sequence: 9, at: specimen::at(9), kind: EventKind::Doing(evil.to_owned()) });
    let page = html(&run.view()).unwrap();
    assert!(!page.contains("<script"), "a script came through");
    assert!(page.contains("&#60;script&#62;") || page.contains("&lt;script&gt;"));
    assert_sound(&page);
}

#[test]
fn the_page_loads_nothing_and_runs_nothing() {
    let page = html(&specimen::run().view()).unwrap();
    for word in ["http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link", "onload"] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn traces_with_points_that_are_no_numbers_are_drawn_without_them() {
    let mut run = specimen::run();
    let sweep = &mut run.readings[1].acquisitions[0].sweeps[0];
    sweep.levels[3] = f32::NAN;
    sweep.levels[50] = f32::INFINITY;
    sweep.levels[51] = f32::NEG_INFINITY;
    sweep.levels[100] = f32::NAN;
    run.readings[1].acquisitions[1].sweeps[0].levels.fill(f32::NAN);
    run.readings[2].acquisitions[0].sweeps[0].levels.clear();
    run.readings[2].acquisitions[1].sweeps.clear();
    let page = html(&run.view()).unwrap();
    assert_sound(&page);
    assert_eq!(drawings(&page).len(), 2 * 7 + 20, "two looks have no finite point");
}

#[test]
fn odd_levels_are_drawn_and_not_divided_by_nothing() {
    let mut run = specimen::run();
    run.readings.truncate(2);
    for (level, low) in [(0.0, 0.0), (-40.0, f64::NAN), (1e300, 1e-300), (-1e300, f64::INFINITY)] {
        for reading in &mut run.readings {
            reading.figure.as_mut().unwrap().level = Dbm::new(level);
            reading.budget.as_mut().unwrap().expanded = Db::new(0.0);
            reading.proof.floor = None;
            reading.limit = None;
        }
        run.readings[0].limit = Some(Limit::Window { low, high: -1.0 });
        run.readings[0].acquisitions[0].settings.span = Hertz::new(0.0);
        let page = html(&run.view()).unwrap();
        for drawing in drawings(&page) {
            assert!(!drawing.contains("NaN") && !drawing.contains("inf"), "{level}: {drawing}");
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
        "-3.78 dB: Harmonic 3 at 443.4 MHz, VHF high, high",
        "47 CFR 97.307(e), eCFR issue 2026-09-23 (verified)",
        "Levels are at the transmitter's connector",
        "the calibration of the analyser expired on 2026-10-01",
        "Failed at the supply: no answer within 2 s; because: connection reset; advice: look at the cable",
        "the unit was warm",
        "≤ -35.81 dBm",
        "52.85 dB below the carrier",
        "The analyser reported: overload",
        "4.25 s",
        "plan: fh.yaml",
    ] {
        assert!(page.contains(words), "{words}");
    }
    run.header.simulated = None;
    assert!(!html(&run.view()).unwrap().contains("Simulated"));
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
    assert!(page.contains("no key up recorded"));
    run.outcome = Some(Outcome::Complies);
    run.state = RunState::Interrupted;
    assert!(html(&run.view()).unwrap().contains("the run did not go to its end"));
}
