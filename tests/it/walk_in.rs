//! A test day: lines in, verdicts, slips and a log out. The hands are the simulated bench's own, in virtual time.

use std::io::{BufRead, Write};
use std::process::Stdio;

use crate::bench::{Called, Workshop, root};

/// The shipped day and its bench in a workshop of its own, each with texts replaced in it.
fn workshop(in_day: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Workshop {
    let read = |name: &str| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let replaced = |text: String, pairs: &[(&str, &str)]| {
        pairs.iter().fold(text, |text, (from, to)| {
            assert!(text.contains(from), "`{from}` is not in:\n{text}");
            text.replace(from, to)
        })
    };
    let workshop = Workshop::new();
    let day = read("days/demo.yaml").replace("../benches/walk-in.yaml", "bench.yaml");
    workshop.write("day.yaml", &replaced(day, in_day));
    workshop.write("bench.yaml", &replaced(read("benches/walk-in.yaml"), in_bench));
    workshop
}

/// The program with these arguments and lines.
fn typed(workshop: &Workshop, arguments: &[&str], lines: &[&str]) -> Called {
    let mut command = workshop.command(&[&["walk-in"], arguments].concat());
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let text = lines.join("\n") + "\n";
    child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    Called::new(child.wait_with_output().unwrap())
}

fn day(workshop: &Workshop, lines: &[&str]) -> Called {
    typed(workshop, &["day.yaml"], lines)
}

fn summary(workshop: &Workshop, more: &[&str]) -> serde_json::Value {
    let called = workshop.call(&[&["walk-in", "day.yaml", "--summary", "json"], more].concat());
    assert_eq!(called.exit, 0, "{called:?}");
    called.json()
}

fn outcomes(summary: &serde_json::Value) -> Vec<&str> {
    summary["visits"].as_array().unwrap().iter().map(|visit| visit["outcome"].as_str().unwrap()).collect()
}

#[test]
fn radios_come_and_each_gets_its_verdict() {
    let workshop = workshop(&[], &[]);
    let called = day(&workshop, &["REF-1", "X1ABC W-0001", "serial:W-0002 +", "W-0003", "W-0004", "q"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let private = summary(&workshop, &["--private"]);
    assert_eq!(outcomes(&private), ["complies", "complies", "exceeds", "not keyed", "refused"]);
    let visits = private["visits"].as_array().unwrap();
    assert!(visits[0]["reference"] == true && visits[1]["reference"] == false);
    // The truth of the bench: 145.5 MHz at 4.7 W, a second harmonic 38 dB below 4.2 W.
    assert_eq!(visits[1]["carrier_hz"], 145.5e6);
    let level = visits[1]["carrier_dbm"].as_f64().unwrap();
    assert!((level - 36.72).abs() < 1.0, "{level}");
    assert_eq!(visits[2]["worst_order"], 2);
    assert!((visits[2]["worst_margin_db"].as_f64().unwrap() + 14.2).abs() < 2.0, "{:#}", visits[2]);
    assert_eq!(visits[1]["looked_up_to_hz"], 727.5e6);
    // Told to key and to let go, large, and with a sound each.
    assert_eq!(called.talk.matches("key the radio now").count(), 5, "{called:?}");
    assert!(called.talk.contains("let go now: 121.5 MHz is a distress frequency"), "{called:?}");
    assert!(called.talk.matches('\u{7}').count() >= 15 && called.talk.contains("█████"), "{called:?}");
    assert!(!called.talk.contains('\u{1b}'), "no colours were wanted");
    // A slip for each visitor, as data.
    let slips: Vec<&str> = called.out.split("INDICATIVE, NOT A CERTIFICATION").collect();
    assert_eq!(slips.len(), 5, "{}", called.out);
    assert!(slips[0].contains("* COMPLIES *") && slips[0].contains("looked up to 727.5 MHz"), "{}", slips[0]);
    assert!(slips[1].contains("* EXCEEDS *") && slips[1].contains("margin  -1"), "{}", slips[1]);
    assert!(called.out.lines().all(|line| line.len() <= 32), "{}", called.out);
    // What was measured is a run like any other.
    let run = visits[2]["run"].as_str().unwrap();
    let shown = workshop.call(&["show", run, "--json"]).json();
    assert!(
        shown["unit"]["serial"] == "W-0002" && shown["readings"].as_array().unwrap().len() == 5,
        "{shown:#}"
    );
    assert_eq!(workshop.call(&["verify", run]).exit, 0);
    let replayed = workshop.call(&["replay", run]);
    assert!(replayed.out.contains("all the same"), "{replayed:?}");
    // The key-down in which the carrier was found counts among those of the run.
    let keyed = &shown["keyed"];
    assert_eq!(keyed["count"], 2, "{keyed:#}");
    let (in_run, in_day) = (keyed["total_s"].as_f64().unwrap(), visits[2]["keyed_seconds"].as_f64().unwrap());
    assert!((in_run - in_day).abs() < 0.01 && in_run > 2.0, "{in_run} s in the run, {in_day} s in the day");
    agree(&workshop, &private);
}

/// No visit comes to what its run contradicts.
#[track_caller]
fn agree(workshop: &Workshop, summary: &serde_json::Value) {
    let runs = workshop.call(&["runs", "--json"]).json();
    let of_run = |run: &serde_json::Value| {
        runs["runs"].as_array().unwrap().iter().find(|known| known["run"] == *run).unwrap()["outcome"].clone()
    };
    for visit in summary["visits"].as_array().unwrap().iter().filter(|visit| !visit["run"].is_null()) {
        assert_eq!(of_run(&visit["run"]), visit["outcome"], "{visit:#}");
    }
}

/// The radio's own timer ends a transmission, early, late, or while its power is read: whatever that comes to in the run,
/// the day says the same.
#[test]
fn run_and_day_say_the_same_of_a_carrier_that_left() {
    for (after, outcome) in
        [("0.8 s", "invalid"), ("1.5 s", "invalid"), ("2.46 s", "invalid"), ("4 s", "complies")]
    {
        let timer = format!("powers: {{ high: 4.7 W }}\n      time_out: {after}");
        let workshop = workshop(&[], &[("powers: { high: 4.7 W }", &timer)]);
        day(&workshop, &["W-0001"]);
        let private = summary(&workshop, &["--private"]);
        assert_eq!(outcomes(&private), [outcome], "{after}: {private:#}");
        agree(&workshop, &private);
    }
}

/// A queue of strong radios warms the pad, from each to the next, and over an end of the program.
#[test]
fn warmth_is_carried_from_one_radio_to_the_next() {
    let workshop = workshop(&[], &[("rated: 50 W", "rated: 14 W")]);
    let note = || {
        let shown = workshop.call(&["show", "last"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
        let (_, told) = shown.split_once("`pad-40` by ")?;
        told.split_once(" % of what it may rise")?.0.parse::<u32>().ok()
    };
    day(&workshop, &["W-0001"]);
    let first = note().unwrap();
    day(&workshop, &["W-0002", "REF-1"]);
    let third = note().unwrap();
    // By hand: 7.9 W at 2 dB of room are 12.7 W, 0.9 of the rating; the search of 1.6 s warms by 0.9 * 1.6 / 180 = 0.8 %, each
    // radio of 3.9 s by 2 %.
    assert!(first == 1 && (4..=6).contains(&third), "{first} %, then {third} %");
}

#[test]
fn nobody_is_named_in_public_without_leave() {
    let workshop = workshop(&[], &[]);
    day(&workshop, &["3DA0RU", "X1ABC W-0001", "X2DEF serial:W-0002 +"]);
    let public = summary(&workshop, &[]);
    let call = |place: usize| public["visits"][place]["call"].clone();
    assert!(call(1).is_null() && call(2) == "X2DEF", "{public:#}");
    for format in ["text", "csv", "json"] {
        let called = workshop.call(&["walk-in", "day.yaml", "--summary", format]);
        assert!(called.exit == 0 && called.out.contains("X2DEF"), "{called:?}");
        assert!(!called.out.contains("X1ABC") && !called.out.contains("W-0001"), "{called:?}");
        // Leave to publish the call sign is none to publish the serial number.
        assert!(!called.out.contains("W-0002"), "{called:?}");
        assert!(!called.out.contains("3DA0RU"), "{called:?}");
        let called = workshop.call(&["walk-in", "day.yaml", "--summary", format, "--private"]);
        assert!(called.out.contains("X1ABC"), "{called:?}");
    }
    // A call sign is in no run.
    let runs = workshop.call(&["runs", "--json"]).out;
    assert!(runs.contains("W-0002") && !runs.contains("X2DEF"), "{runs}");
    // Nor is what may be one.
    assert!(
        runs.contains("radio 1")
            && runs.contains("radio 2")
            && !runs.contains("3DA0RU")
            && !runs.contains("W-0001"),
        "{runs}"
    );
}

#[test]
fn one_who_came_before_is_noticed_and_a_wrong_name_is_corrected() {
    let workshop = workshop(&[], &[]);
    let lines = ["X1ABC W-0001", "W-0001", "r", "W-0001", "a", "c X1ABD", "c 1 X9ZZZ", "d"];
    let called = day(&workshop, &lines);
    assert_eq!(called.out.matches("no. 1").count(), 2, "the slip was printed again: {}", called.out);
    assert!(called.talk.contains("visit 1 was `X1ABC, W-0001`: complies"), "{called:?}");
    assert!(called.talk.contains("visit 2: `X1ABC, W-0001` was noted, `X1ABD, W-0001` holds"), "{called:?}");
    let private = summary(&workshop, &["--private"]);
    let calls: Vec<_> =
        private["visits"].as_array().unwrap().iter().map(|visit| visit["call"].clone()).collect();
    assert_eq!(calls, ["X9ZZZ", "X1ABD"]);
}

/// The day goes on with the next start, and a visit that broke off is told.
#[test]
fn a_day_goes_on_after_the_program_ended() {
    let workshop = workshop(&[], &[]);
    day(&workshop, &["W-0001", "q"]);
    let called = day(&workshop, &["W-0001", "W-0002"]);
    assert!(
        called.talk.contains("1 visit so far") && called.talk.contains("visit 1 was `W-0001`"),
        "{called:?}"
    );
    assert_eq!(outcomes(&summary(&workshop, &[])), ["complies", "exceeds"]);
}

#[test]
fn a_reference_radio_that_has_drifted_is_told_and_written() {
    let workshop = workshop(&[("carrier: 36.0 dBm", "carrier: 37.5 dBm")], &[]);
    let called = day(&workshop, &["W-0001", "REF-1", "W-0002", "q"]);
    assert!(called.out.contains("reference overdue"), "{}", called.out);
    let slips = called.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(slips.matches("reference radio had drifted").count(), 1, "{}", called.out);
    assert!(called.talk.contains("THE REFERENCE RADIO HAS DRIFTED: look for"), "{called:?}");
    assert!(called.talk.contains("REFERENCE RADIO HAS DRIFTED: the carrier by -1."), "{called:?}");
    let told = workshop.call(&["walk-in", "day.yaml", "--summary"]).out;
    assert!(told.contains("REFERENCE RADIO HAS DRIFTED"), "{told}");
    assert!(told.contains("had drifted: the bench was shown not to be as it was"), "{told}");
}

/// A thumb that does not let go is told again and again; a bench that failed is a result, and the day goes on.
#[test]
fn a_thumb_that_holds_on_is_told_and_the_day_goes_on() {
    let hand = ("harmonics: { 2: 72 dB, 3: 74 dB, 4: 82 dB }", "hand: { lets_go: false }");
    let workshop = workshop(&[], &[hand]);
    let called = day(&workshop, &["W-0001", "W-0003", "off", "W-0002"]);
    assert!(called.talk.contains("A CARRIER IS STILL THERE"), "{called:?}");
    assert!(called.talk.contains("nobody is told to key while a carrier is still there"), "{called:?}");
    assert!(called.talk.contains("let go now: the carrier is still there"), "{called:?}");
    assert!(called.talk.contains("LET GO NOW"), "{called:?}");
    // Nobody says that the key is up while the radio transmits.
    let of_first = called.talk.split("no. 1").next().unwrap();
    assert!(!of_first.contains("let go after") && called.talk.contains("let go after"), "{called:?}");
    assert_eq!(outcomes(&summary(&workshop, &[])), ["failed", "exceeds"]);
}

/// That a carrier stays is not forgotten when the program ends: it is asked for again.
#[test]
fn a_carrier_that_stays_outlives_the_program() {
    let hand = ("harmonics: { 2: 72 dB, 3: 74 dB, 4: 82 dB }", "hand: { lets_go: false }");
    let workshop = workshop(&[], &[hand]);
    day(&workshop, &["W-0001", "q"]);
    let called = day(&workshop, &["W-0002", "r", "a 1"]);
    assert!(!called.talk.contains("key the radio now"), "{called:?}");
    assert_eq!(called.talk.matches("A CARRIER IS STILL THERE").count(), 4, "{called:?}");
    let called = day(&workshop, &["off", "W-0002"]);
    assert!(called.talk.contains("key the radio now"), "{called:?}");
    assert_eq!(outcomes(&summary(&workshop, &[])), ["failed", "exceeds"]);
}

#[test]
fn lines_do_what_people_expect() {
    let workshop = workshop(&[], &[]);
    let called = day(&workshop, &["help", "W-0001", "c 1", "c 1 X1ABC", "d", "exit", "W-0002"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let talk = called.talk.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "also `quit` and `exit`",
        "expected what is right about visit 1, found nothing behind it write for example `c 1 X1ABC`",
        "visit 1: `W-0001` was noted, `X1ABC, W-0001` holds",
        "1 visit: 1 complies",
    ] {
        assert!(talk.contains(part), "{part}: {talk}");
    }
    assert_eq!(outcomes(&summary(&workshop, &[])), ["complies"]);
    // The reference radio is no visitor, and counts in the numbers all the same.
    let called = day(&workshop, &["REF-1", "quit"]);
    assert!(called.talk.contains("1 visit so far"), "{called:?}");
    let told = workshop.call(&["walk-in", "day.yaml", "--summary"]).out;
    assert!(told.contains("\n1 visit and 1 look at the reference radio: 1 complies\n"), "{told}");
    assert!(day(&workshop, &[]).talk.contains("1 visit and 1 look at the reference radio so far"), "{told}");
    for wrong in ["2026-02-30", "20260509", "yesterday", "2026-5-9"] {
        let called = workshop.call(&["walk-in", "day.yaml", "--summary", "--date", wrong]);
        assert!(called.exit == 2 && called.talk.contains("such as 2026-05-09"), "{wrong}: {called:?}");
    }
}

/// Slip and summary tell the time of the place and that of everywhere.
#[test]
fn times_are_local_and_utc() {
    let workshop = workshop(&[], &[]);
    let called = |arguments: &[&str], lines: &str| {
        let mut command = workshop.command(&[&["walk-in", "day.yaml"], arguments].concat());
        command.env("TZ", "<+0530>-5:30").stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
        Called::new(child.wait_with_output().unwrap())
    };
    let slip = called(&[], "W-0001\n");
    assert!(slip.out.contains(" +05:30 ") && slip.out.contains(" UTC\n"), "{slip:?}");
    let told = called(&["--summary"], "");
    assert!(told.out.contains(" UTC) W-0001") || told.out.contains(" UTC) complies"), "{told:?}");
    let json = called(&["--summary", "json"], "").json();
    assert!(json["visits"][0]["at_local"].as_str().unwrap().ends_with("+05:30"), "{json:#}");
}

/// A radio that is keyed before its owner was told to, on a bench where another carrier stands all the time.
#[test]
fn what_is_on_the_air_already_is_no_radio_that_was_brought() {
    let ambient = (
        "  # What a person does",
        "  ambient: [ { frequency: 146.94 MHz, level: -12 dBm } ]\n  # What a person does",
    );
    let workshop = workshop(&[], &[ambient]);
    let called = day(&workshop, &["W-0001"]);
    assert!(called.talk.contains("is there before anybody was told to key"), "{called:?}");
    let why = summary(&workshop, &[])["visits"][0]["why"].as_str().unwrap().to_owned();
    assert!(why.contains("whose radio is that? Switch it off, or wait until it has gone"), "{why}");
    assert_eq!(outcomes(&summary(&workshop, &[])), ["refused"]);
}

/// No rule says how strong a carrier has to be: the day's window refuses, and nobody exceeds by it.
#[test]
fn nobody_exceeds_by_the_power_that_a_day_takes() {
    for (watts, outcome) in [("0.3", "refused"), ("0.56", "complies"), ("7.2", "complies"), ("12", "refused")]
    {
        let power = format!("powers: {{ high: {watts} W }}");
        let workshop = workshop(&[], &[("powers: { high: 4.7 W }", &power)]);
        let called = day(&workshop, &["W-0001"]);
        let private = summary(&workshop, &["--private"]);
        assert_eq!(outcomes(&private), [outcome], "{watts} W: {called:?}");
        if outcome == "refused" {
            let why = private["visits"][0]["why"].as_str().unwrap();
            assert!(why.contains("than is taken, 500 mW..8 W"), "{watts} W: {why}");
        }
    }
}

/// Channels lie on several rasters: the harmonics are looked for where this carrier has them.
#[test]
fn a_carrier_is_where_it_was_measured() {
    for megahertz in ["145.50625", "144.00833"] {
        let tuned = format!("tuned_to: {megahertz} MHz");
        let workshop = workshop(&[], &[("tuned_to: 145.5 MHz", &tuned)]);
        day(&workshop, &["W-0001"]);
        let private = summary(&workshop, &["--private"]);
        assert_eq!(outcomes(&private), ["complies"]);
        let found = private["visits"][0]["carrier_hz"].as_f64().unwrap();
        let truth = megahertz.parse::<f64>().unwrap() * 1e6;
        assert!((found - truth).abs() <= 50.0, "{found} for {truth}");
    }
}

/// What nobody sees may be keyed all the same: it is told to let go in time.
#[test]
fn a_carrier_that_is_too_weak_to_be_seen_is_told_to_let_go() {
    let workshop = workshop(
        &[("within: 30 s", "within: 60 s")],
        &[("powers: { high: 4.7 W }", "powers: { high: 0.00001 W }")],
    );
    let called = day(&workshop, &["W-0001"]);
    let talk = called.talk.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(talk.matches("key the radio now, for at most 10 s").count(), 2, "{talk}");
    assert_eq!(talk.matches("let go now, and do not key until you are told").count(), 2, "{talk}");
    assert_eq!(talk.matches("the radio rests for 30 s").count(), 1, "{talk}");
    assert_eq!(outcomes(&summary(&workshop, &["--private"])), ["not keyed"]);
}

/// Whoever stops the day between the search and the run is heard: nobody is told to key again.
#[test]
fn a_stop_between_search_and_run_counts() {
    let workshop = workshop(&[], &[("clock: fast ", "clock: real ")]);
    let mut command = workshop.command(&["walk-in", "day.yaml"]);
    command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut program = command.spawn().unwrap();
    // It stays open: that nobody types any more must not end the day here.
    let mut typing = program.stdin.take().unwrap();
    typing.write_all(b"W-0001\n").unwrap();
    let mut lines = std::io::BufReader::new(program.stderr.take().unwrap()).lines();
    let mut talk = String::new();
    for line in lines.by_ref() {
        let line = line.unwrap();
        talk.push_str(&(line.clone() + "\n"));
        if line.contains("carrier found") {
            crate::keyholder::kill(program.id(), "-INT");
            break;
        }
    }
    lines.for_each(|line| talk.push_str(&(line.unwrap() + "\n")));
    assert_eq!(program.wait().unwrap().code(), Some(130), "{talk}");
    assert_eq!(talk.matches("key the").count(), 1, "{talk}");
    assert_eq!(outcomes(&summary(&workshop, &[])), ["stopped"]);
    drop(typing);
}

#[test]
fn a_bench_alone_needs_a_rule_and_a_band() {
    let workshop = workshop(&[], &[]);
    let called = typed(&workshop, &["bench.yaml"], &[]);
    assert!(called.exit == 2 && called.talk.contains("`--rule us-part-97`"), "{called:?}");
    let called = typed(&workshop, &["bench.yaml", "--rule", "us-part-97"], &[]);
    assert!(called.exit == 2 && called.talk.contains("--band"), "{called:?}");
    let said = [
        "bench.yaml",
        "--rule",
        "us-part-97",
        "--band",
        "144 MHz..148 MHz",
        "--slip",
        "80",
        "--slips",
        "slips",
    ];
    let called = typed(&workshop, &said, &["W-0001"]);
    assert!(called.exit == 0 && called.out.contains("* COMPLIES *"), "{called:?}");
    assert!(called.out.lines().any(|line| line.len() == 48), "{}", called.out);
    let slips = std::fs::read_dir(workshop.path("slips")).unwrap().map(|file| file.unwrap().path());
    let mut slips: Vec<_> = slips.collect();
    slips.sort();
    let [label, slip] = slips.as_slice() else { panic!("{slips:?}") };
    assert!(slip.to_str().unwrap().ends_with("-001.txt"), "{slips:?}");
    let slip = std::fs::read_to_string(slip).unwrap();
    assert!(called.out.starts_with(&slip), "{slip}");
    assert!(std::fs::read(label).unwrap().starts_with(b"%PDF-"));
}

#[test]
fn mistakes_are_told_before_anybody_comes() {
    for (in_day, in_bench, told) in [
        (
            ("bands: [ \"144 MHz..148 MHz\"", "bands: [ \"4 GHz..4.1 GHz\""),
            ("seed: 11", "seed: 11"),
            "out of reach",
        ),
        (("slip: 58 mm", "slip: 57 mm"), ("seed: 11", "seed: 11"), "58 mm"),
        (("rule: us-part-97", "rule: us-part-79"), ("seed: 11", "seed: 11"), "us-part-79"),
        (
            ("slip: 58 mm", "slip: 80 mm"),
            (
                "unit_control: operator",
                "unit_control: { at: \"TCPIP::127.0.0.1::15569::SOCKET\", profile: unit-generic }",
            ),
            "`unit_control: operator`",
        ),
    ] {
        let workshop = workshop(&[in_day], &[in_bench]);
        let called = day(&workshop, &["W-0001"]);
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains(told) || told == "out of reach", "{told}: {called:?}");
        assert!(!called.talk.contains("key the radio now"), "{called:?}");
    }
    let workshop = workshop(&[], &[]);
    let called = typed(&workshop, &["day.yaml", "--quiet"], &["W-0001"]);
    assert!(called.exit == 2 && called.talk.contains("leaves nobody told"), "{called:?}");
    let called = workshop.call(&["walk-in", "day.yaml", "--summary"]);
    assert!(called.exit == 2 && called.talk.contains("nothing was entered today"), "{called:?}");
}

/// A real bench keys nothing unless somebody has said that it may, and somebody is there to be told.
#[test]
fn a_real_bench_is_armed_and_has_somebody_at_it() {
    let workshop = workshop(&[], &[]);
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", bench.split("# The truth of this bench").next().unwrap());
    let called = day(&workshop, &["W-0001"]);
    assert!(called.exit == 2 && called.talk.contains("`--arm`"), "{called:?}");
    let called = typed(&workshop, &["day.yaml", "--arm"], &["W-0001"]);
    assert!(called.exit == 2 && called.talk.contains("is no terminal"), "{called:?}");
}
