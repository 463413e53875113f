//! A run that broke off goes on where it stands, and comes to the same.

use std::io::{BufRead, BufReader};
use std::process::{Child, Stdio};

use serde_json::Value;
use spurline_record::{EventKind, TextRole};
use spurline_store::Store;

use crate::bench::{Called, Workshop, plan, shipped, simulated_bench};
use crate::processes::signal;

/// A shipped plan that goes through four states.
fn demonstration() -> Workshop {
    shipped(("demo", "demo"), &[], &[])
}

/// A run that has kept the reading of this number, and goes on.
fn running(workshop: &Workshop, number: u32) -> Child {
    let mut command = workshop.command(&["run", "plan.yaml"]);
    let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    let mut talk = BufReader::new(child.stderr.take().unwrap()).lines();
    let kept = |line: &str| line.split_whitespace().next() == Some(&number.to_string());
    assert!(talk.any(|line| kept(&line.unwrap())), "the run ended before that");
    child
}

fn kill(mut child: Child) {
    child.kill().unwrap();
    child.wait().unwrap();
}

fn shown(workshop: &Workshop) -> Value {
    workshop.call(&["show", "last", "--json"]).json()
}

/// What the readings of a run are about and what they came to.
fn outcomes(document: &Value) -> Vec<String> {
    let words = |reading: &Value| {
        ["quantity", "channel", "power_setting", "order", "limit_dbm", "outcome", "reason_code"]
            .map(|key| reading[key].to_string())
            .join(" ")
    };
    let mut all: Vec<String> = document["readings"].as_array().unwrap().iter().map(words).collect();
    // The limit follows the power that was measured.
    all.sort();
    all
}

fn goes_on(workshop: &Workshop) -> (Called, Value) {
    let called = workshop.call(&["resume", "last", "--json"]);
    let document = called.json();
    (called, document)
}

#[test]
fn a_run_that_was_killed_goes_on_and_comes_to_the_same() {
    let whole = demonstration();
    let called = whole.call(&["run", "plan.yaml", "--json"]);
    let workshop = demonstration();
    kill(running(&workshop, 10));
    let before = shown(&workshop);
    assert_eq!(before["state"], "broken off");
    let kept = before["readings"].as_array().unwrap();
    assert!(kept.len() >= 10 && kept.len().is_multiple_of(10), "whole pieces are kept: {}", kept.len());

    let (resumed, document) = goes_on(&workshop);
    assert_eq!((resumed.exit, document["state"].as_str()), (called.exit, Some("finished")), "{resumed:?}");
    // What was kept is not touched.
    assert_eq!(document["readings"].as_array().unwrap()[..kept.len()], kept[..]);
    let quantities = |document: &Value| {
        let mut outcomes = outcomes(document);
        outcomes.iter_mut().for_each(|words| *words = words.replace(char::is_numeric, ""));
        outcomes
    };
    assert_eq!(quantities(&document), quantities(&called.json()));
    assert!(resumed.talk.contains("run ") && !resumed.talk.contains("error"), "{resumed:?}");
    // Both legs, with what their instruments said.
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
}

#[test]
fn a_run_that_was_stopped_goes_on_and_what_was_half_done_is_done_anew() {
    let workshop = demonstration();
    let mut child = running(&workshop, 10);
    signal("-TERM", &child);
    let code = child.wait().unwrap().code();
    let (resumed, document) = goes_on(&workshop);
    if code == Some(1) {
        // It had come to its end before it was told.
        assert_eq!(resumed.exit, 2, "{resumed:?}");
        return;
    }
    assert_eq!(code, Some(130));
    assert_eq!(resumed.exit, 1, "{resumed:?}");
    let mut all = outcomes(&document);
    assert_eq!(all.len(), 30);
    all.dedup();
    assert_eq!(all.len(), 30, "nothing is there twice");
}

#[test]
fn a_run_that_broke_off_twice_goes_on() {
    let workshop = demonstration();
    kill(running(&workshop, 10));
    let mut command = workshop.command(&["resume", "last"]);
    let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    let mut talk = BufReader::new(child.stderr.take().unwrap()).lines();
    assert!(talk.any(|line| line.unwrap().contains("KEY DOWN")));
    kill(child);
    let (resumed, document) = goes_on(&workshop);
    assert_eq!(resumed.exit, 1, "{resumed:?}");
    assert_eq!(document["readings"].as_array().unwrap().len(), 30);
    assert_eq!(workshop.call(&["replay", "last"]).exit, 0);
}

#[test]
fn a_run_that_ended_has_nothing_to_go_on_with() {
    let workshop = demonstration();
    workshop.call(&["run", "plan.yaml"]);
    let called = workshop.call(&["resume", "last"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("went to its end") && called.talk.contains("help: "), "{called:?}");
    assert_eq!(workshop.call(&["resume", "nothing"]).exit, 2);
}

#[test]
fn a_run_that_is_going_on_is_left_alone() {
    let workshop = demonstration();
    let child = running(&workshop, 10);
    signal("-STOP", &child);
    let called = workshop.call(&["resume", "last"]);
    signal("-CONT", &child);
    let mut child = child;
    assert_eq!(child.wait().unwrap().code(), Some(1), "it was not disturbed");
    assert_eq!(called.exit, 4, "{called:?}");
    let who = format!("is in use by another spurline, process {}", child.id());
    assert!(called.talk.contains(&who), "{called:?}");
}

/// Keeps the run of a workshop once more, in a record of its own, as it would have been with something else in its bench
/// file: a record that somebody wrote into is not gone on with.
fn recorded_anew(workshop: &Workshop, from: &str, to: &str) {
    let data = workshop.path("data");
    let old = workshop.path("old");
    std::fs::rename(&data, &old).unwrap();
    let store = Store::open_read_only(&old).unwrap();
    let id = store.resolve("last").unwrap();
    let (mut stored, transcript) = (store.load(&id).unwrap(), store.transcript(&id).unwrap());
    let Some(EventKind::RunStarted(header)) = stored.events.first_mut().map(|event| &mut event.kind) else {
        panic!("a run begins with its start")
    };
    let bench = header.texts.iter_mut().find(|text| text.role == TextRole::Bench).unwrap();
    assert_eq!(bench.text.matches(from).count(), 1, "{from}");
    bench.text = bench.text.replace(from, to);
    let mut recorder = Store::open(&data).unwrap().into_recorder();
    recorder.record_with(&stored.events, &transcript.entries).unwrap();
}

#[test]
fn a_record_that_was_written_into_is_not_gone_on_with() {
    let workshop = demonstration();
    kill(running(&workshop, 10));
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    let query = "UPDATE text SET text = replace(text, 'low: 0.92 W', 'low: 0.7 W') WHERE role = 'bench'";
    assert_eq!(record.execute(query, []).unwrap(), 1);
    let called = workshop.call(&["resume", "last"]);
    assert_eq!(called.exit, 5, "{called:?}");
    for told in ["is not what was recorded: event 1", "`spurline verify`"] {
        assert!(called.talk.contains(told), "{told}: {called:?}");
    }
    assert!(!called.talk.contains("KEY DOWN"), "{called:?}");
    assert_eq!(workshop.call(&["verify", "last"]).exit, 1);
}

/// The record of a run that was killed, with something else in one of its files: what answers when it goes on is
/// another bench than the one that it began on.
fn answered_by(from: &str, to: &str) -> (Workshop, Called) {
    let workshop = demonstration();
    kill(running(&workshop, 10));
    recorded_anew(&workshop, from, to);
    let called = workshop.call(&["resume", "last"]);
    assert_eq!(called.exit, 4, "{called:?}");
    (workshop, called)
}

#[test]
fn another_unit_is_not_gone_on_with() {
    let (workshop, called) = answered_by("serial: FH2-0001", "serial: FH2-0002");
    let words = "the unit-control is another one than when the run began";
    assert!(called.talk.contains(words) && called.talk.contains("FH2-0002"), "{called:?}");
    assert_eq!(shown(&workshop)["readings"].as_array().unwrap().len() % 10, 0);
}

#[test]
fn another_carrier_is_not_gone_on_with() {
    let (workshop, called) = answered_by("low: 0.92 W", "low: 0.7 W");
    assert!(called.talk.contains("before the run broke off"), "{called:?}");
    let after = shown(&workshop);
    assert_eq!(
        (after["state"].as_str(), after["readings"].as_array().unwrap().len() % 10),
        (Some("failed"), 0)
    );
}

#[test]
fn a_run_whose_process_died_is_told_from_one_that_goes_on() {
    let workshop = demonstration();
    let child = running(&workshop, 10);
    signal("-STOP", &child);
    let going_on = workshop.call(&["runs"]);
    kill(child);
    let died = workshop.call(&["runs"]);
    assert!(going_on.out.contains("running"), "{going_on:?}");
    assert!(died.out.contains("broken off"), "{died:?}");
    goes_on(&workshop);
    let shown = workshop.call(&["show", "last"]);
    assert!(shown.out.contains("had broken off (its process had died)"), "{shown:?}");
}

/// A unit that gives far more than the plan expects, into a pad that bears less: what ended the first leg is known to the
/// second one, though its piece was half done.
#[test]
fn what_overloaded_the_bench_is_not_keyed_again() {
    let more = "verify_path: false\n";
    let bench = simulated_bench(4, "");
    let strong = bench.replace("powers: { high: 4.7 W }", "powers: { high: 40 W }");
    assert_ne!(strong, bench);
    let workshop = Workshop::with(&plan("146 MHz", 3), &(strong + more));
    let first = workshop.call(&["run", "plan.yaml"]);
    assert!(first.exit == 4 && first.talk.contains("KEY DOWN"), "{first:?}");
    let second = workshop.call(&["resume", "last"]);
    assert_eq!(second.exit, 4, "{second:?}");
    assert!(!second.talk.contains("KEY DOWN"), "{second:?}");
    let third = workshop.call(&["resume", "last"]);
    assert!(third.exit == 4 && !third.talk.contains("KEY DOWN"), "{third:?}");
}
