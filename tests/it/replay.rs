//! A recorded run again: the same readings from what its instruments said, and every difference with both sides.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::Stdio;
use std::time::Duration;

use data_encoding::BASE64;
use rusqlite::{Connection, params};
use serde_json::Value;

use crate::bench::{Workshop, plan, root, simulated_bench};
use crate::processes::{Serving, running_keyed, signal};

/// A run of the test bench, with `more` in its truth.
fn recorded(more: &str, exit: i32) -> Workshop {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(2, more));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, exit, "{called:?}");
    workshop
}

#[track_caller]
fn replays(workshop: &Workshop, says: &[&str]) {
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 0, "{called:?}");
    for text in says {
        assert!(called.out.contains(text), "`{text}` is not in {called:?}");
    }
}

fn transcript(workshop: &Workshop) -> Vec<Value> {
    let called = workshop.call(&["show", "last", "--transcript", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    called.json()["entries"].as_array().unwrap().clone()
}

fn bytes(entry: &Value) -> Vec<u8> {
    match entry["text"].as_str() {
        Some(text) => text.into(),
        None => BASE64.decode(entry["base64"].as_str().unwrap().as_bytes()).unwrap(),
    }
}

/// Puts another transcript into the record, in the rows of schema 1, which anyone can write.
fn rewrite(workshop: &Workshop, change: impl Fn(usize, &Value, &mut Vec<u8>)) {
    let entries = transcript(workshop);
    let record = Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record.execute("DELETE FROM transcript_batch", []).unwrap();
    for (place, entry) in entries.iter().enumerate() {
        let mut content = bytes(entry);
        change(place, entry, &mut content);
        record
            .execute(
                "INSERT INTO transcript (run, at, link, direction, step, bytes)
                 SELECT id, ?1, ?2, ?3, ?4, ?5 FROM run",
                params![
                    entry["at"].as_str(),
                    entry["link"].as_str(),
                    entry["direction"].as_str(),
                    entry["step"].as_str(),
                    content
                ],
            )
            .unwrap();
    }
}

#[test]
fn the_demonstration_comes_out_the_same_without_its_bench() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/demo.yaml");
    assert_eq!(workshop.call(&["run", plan.to_str().unwrap()]).exit, 1);
    let run = workshop.call(&["runs", "--json"]).json()["runs"][0]["run"].as_str().unwrap().to_owned();
    replays(&workshop, &[&format!("replayed run {run}: 30 readings, all the same\n")]);
    let document = workshop.call(&["replay", &run, "--json"]).json();
    assert_eq!((&document["same"], &document["readings"]), (&true.into(), &30.into()), "{document}");
    assert_eq!(document["differences"].as_array().unwrap().len(), 0);
    assert_eq!(
        workshop.call(&["runs", "--json"]).json()["runs"].as_array().unwrap().len(),
        1,
        "nothing is kept"
    );
}

/// Two ways, a switch, two supplies: the files are gone, the record has them.
#[test]
fn nothing_but_the_record_is_needed() {
    let workshop = recorded("", 1);
    for file in ["plan.yaml", "bench.yaml"] {
        std::fs::remove_file(workshop.path(file)).unwrap();
    }
    replays(&workshop, &["3 readings, all the same"]);
    let workshop = Workshop::new();
    let plan = root().join("config/plans/notched.yaml");
    assert_eq!(workshop.call(&["run", plan.to_str().unwrap()]).exit, 0);
    replays(&workshop, &["64 readings, all the same"]);
}

#[test]
fn a_run_that_failed_fails_again_as_it_did() {
    for (fault, says) in [
        ("instrument: analyser, does: cut-link, after_messages: 18", "the analyser failed"),
        ("instrument: analyser, does: mute-link, after_messages: 18", "the analyser failed"),
        ("instrument: relay, does: cut-link, after_messages: 10", "the key failed"),
        ("instrument: relay, does: mute-link, after_messages: 10", "the key failed"),
    ] {
        let faults = format!("  faults: [ {{ {fault} }} ]\n");
        let workshop = Workshop::with(&plan("146 MHz", 10), &simulated_bench(2, &faults));
        let called = workshop.call(&["run", "plan.yaml"]);
        assert_eq!(called.exit, 4, "{fault}: {called:?}");
        replays(&workshop, &["all the same", &format!("failed as it did: {says}")]);
    }
}

#[test]
fn a_run_that_recovered_recovers_again() {
    for fault in [
        "instrument: analyser, does: mute-link, after_messages: 20, lasts: 3 s",
        "instrument: analyser, does: late-answer, after_messages: 20",
        "instrument: power-meter, does: mute-link, after_messages: 12, lasts: 3 s",
    ] {
        let undisturbed = transcript(&recorded("", 1)).len();
        let workshop = recorded(&format!("  faults: [ {{ {fault} }} ]\n"), 1);
        assert!(transcript(&workshop).len() > undisturbed, "{fault}: something was asked again");
        replays(&workshop, &["3 readings, all the same"]);
    }
}

/// In real time the beats that keep the key down fall otherwise than on the fast clock.
#[test]
fn a_run_in_real_time_is_replayed_and_one_that_was_stopped_up_to_there() {
    let workshop = Workshop::with(&plan("146 MHz", 10), "");
    let _serving = Serving::start(&workshop, "  key_log: key.log\n");
    // A machine that is busy with other things may let a beat lapse, which no replay can repeat.
    let undisturbed = (0..5).any(|_| {
        let called = workshop.call(&["run", "plan.yaml"]);
        assert_eq!(called.exit, 1, "{called:?}");
        !called.talk.contains("done again from the beginning")
    });
    assert!(undisturbed, "the key lapses on a machine that is this busy");
    replays(&workshop, &["10 readings, all the same"]);
    let (mut child, _talk) = running_keyed(&workshop);
    signal("-INT", &child);
    assert_eq!(child.wait().unwrap().code(), Some(130));
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.talk.contains("note: the run was stopped: it is replayed up to there"), "{called:?}");
}

/// The place of the last message from a link while the unit was keyed.
fn last_keyed(workshop: &Workshop, of: impl Fn(&Value) -> bool) -> usize {
    let entries = transcript(workshop);
    let told = |entry: &Value| entry["text"].as_str().is_some_and(|text| text.starts_with("ROUT:CLOS (@1)"));
    let keyed = entries.iter().rposition(told).unwrap();
    entries[..keyed].iter().rposition(|entry| entry["direction"] == "from" && of(entry)).unwrap()
}

/// As a process leaves it that dies in its second scope: readings are kept at once, the transcript with each key up
/// and each scope.
#[test]
fn a_run_whose_process_died_is_replayed_as_far_as_its_transcript_goes() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/demo.yaml");
    assert_eq!(workshop.call(&["run", plan.to_str().unwrap()]).exit, 1);
    let record = Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record
        .execute_batch(
            "DELETE FROM transcript_batch WHERE ordinal > 3;
             DELETE FROM event WHERE kind = 'run-ended';
             UPDATE run SET state = 'running', ended = NULL, outcome = NULL",
        )
        .unwrap();
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.out.contains(": 10 of 30 readings, all the same"), "{called:?}");
    assert!(called.talk.contains("note: the run has no end"), "{called:?}");
    let document = workshop.call(&["replay", "last", "--json"]).json();
    assert_eq!((&document["compared"], &document["readings"]), (&10.into(), &30.into()), "{document}");
}

#[test]
fn a_changed_answer_is_told_with_both_sides() {
    let workshop = recorded("", 1);
    let last = last_keyed(&workshop, |entry| entry["link"] == "power-meter");
    rewrite(&workshop, |place, _, content| {
        if place == last {
            // The first decimal of the level in dBm.
            content[2] ^= 1;
        }
    });
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(called.talk.contains("note: the transcript was kept by an older version"), "{called:?}");
    assert!(called.out.contains("not the same\n  reading 1, "), "{called:?}");
    let document = workshop.call(&["replay", "last", "--json"]).json();
    assert_eq!(document["same"], false);
    let first = &document["differences"][0];
    assert_eq!(first["reading"], 1, "{document}");
    assert_ne!(first["recorded"], first["replayed"], "{document}");
}

#[test]
fn a_single_bit_of_a_sweep_is_told() {
    let workshop = recorded("", 1);
    let sweep = last_keyed(&workshop, |entry| entry["base64"].is_string());
    rewrite(&workshop, |place, _, content| {
        if place == sweep {
            // Behind `#41604` the first point, big endian: its lowest bit.
            assert_eq!(&content[..6], b"#41604");
            content[9] ^= 1;
        }
    });
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 1, "{called:?}");
    assert!(called.out.contains("1 not the same\n  reading "), "{called:?}");
}

#[test]
fn a_changed_request_is_told_with_both_sides_and_its_place() {
    let workshop = recorded("", 1);
    let entries = transcript(&workshop);
    let sent = |entry: &Value| entry["link"] == "analyser" && entry["direction"] == "to";
    let step = "one high: look while the unit is not keyed";
    let changed = entries.iter().position(|entry| sent(entry) && entry["step"] == step).unwrap();
    let number = entries[..=changed].iter().filter(|entry| sent(entry)).count();
    let asked = entries[changed]["text"].as_str().unwrap();
    rewrite(&workshop, |place, _, content| {
        if place == changed {
            content.push(b'0');
        }
    });
    let called = workshop.call(&["replay", "last", "--json"]);
    assert_eq!(called.exit, 4, "{called:?}");
    let expected =
        format!("message {number} to the analyser, in step `{step}`: recorded `{asked}0`, asked `{asked}`");
    assert!(called.talk.contains(&format!("because: {expected}")), "{called:?}");
    let causes = called.json()["error"]["causes"].as_array().unwrap().clone();
    assert_eq!(causes.last().unwrap(), expected.as_str());
}

#[test]
fn a_run_without_transcript_says_so() {
    let workshop = recorded("", 1);
    let record = Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record.execute("DELETE FROM transcript_batch", []).unwrap();
    let called = workshop.call(&["replay", "last"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("has no transcript"), "{called:?}");
    let called = workshop.call(&["show", "last", "--transcript"]);
    assert!(called.exit == 0 && called.out.contains("has no transcript"), "{called:?}");
    let claims = "INSERT INTO transcript_batch (ordinal, run, entries, size, codec, data)
                  SELECT 1, id, 1, 1 << 40, 1, x'789c' FROM run";
    record.execute(claims, []).unwrap();
    for command in [&["replay", "last"][..], &["show", "last", "--transcript"]] {
        let called = workshop.call(command);
        assert_eq!(called.exit, 5, "{called:?}");
        assert!(called.talk.contains("because: expected a transcript of at most"), "{called:?}");
    }
}

/// Takes away what later schemas have added.
const BACK_TO_THE_FIRST: &str = "
    DROP TABLE transcript_batch; DROP TABLE proof; DROP TABLE signature; DROP TABLE pruning; DROP VIEW unit;
    DROP TABLE verdict_reading; DROP TABLE verdict_text; DROP TABLE verdict;
    ALTER TABLE run DROP COLUMN readings; ALTER TABLE run DROP COLUMN chain; ALTER TABLE run DROP COLUMN links;
    ALTER TABLE run DROP COLUMN head;
    ALTER TABLE event DROP COLUMN number; ALTER TABLE event DROP COLUMN digest; ALTER TABLE event DROP COLUMN link;
    ALTER TABLE sweep DROP COLUMN hash; DROP INDEX event_resumed; DROP INDEX reading_without_limit;
    ALTER TABLE instrument DROP COLUMN calibrated; ALTER TABLE instrument DROP COLUMN due;
    ALTER TABLE instrument DROP COLUMN certificate;
    PRAGMA user_version = 1";

/// A record as schema 1 had it is shown, reported and replayed by a program that only looks at it.
#[test]
fn a_record_of_the_first_schema_is_looked_at_as_it_is() {
    let workshop = recorded("", 1);
    let mut report = workshop.call(&["report", "last", "--format", "json"]).json();
    assert!(report["report"]["head"].take().is_string(), "the first schema had no chain");
    rewrite(&workshop, |_, _, _| {});
    let record = Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record.execute_batch(BACK_TO_THE_FIRST).unwrap();
    assert_eq!(workshop.call(&["report", "last", "--format", "json"]).json(), report);
    let shown = workshop.call(&["show", "last"]);
    assert!(shown.exit == 0 && shown.out.contains("3 readings"), "{shown:?}");
    replays(&workshop, &["3 readings, all the same"]);
    let version = |record: &Connection| -> i64 {
        record.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
    };
    assert_eq!(version(&record), 1);
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 1);
    assert_eq!(version(&record), 7, "a run brings it up to date");
    assert_eq!(workshop.call(&["runs", "--json"]).json()["runs"].as_array().unwrap().len(), 2);
}

#[test]
fn another_program_can_talk_to_the_recorded_instruments() {
    let workshop = recorded("", 1);
    let mut command = workshop.command(&["replay", "last", "--serve"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let lines = BufReader::new(child.stdout.as_mut().unwrap()).lines().map(Result::unwrap);
    let lines: Vec<String> = lines.take_while(|line| line != "ready").collect();
    assert_eq!(lines.len(), 4, "{lines:?}");
    let address = lines.iter().find_map(|line| line.strip_prefix("analyser TCPIP::127.0.0.1::")).unwrap();
    let port = address.strip_suffix("::SOCKET").unwrap().parse::<u16>().unwrap();
    let mut analyser = TcpStream::connect(("127.0.0.1", port)).unwrap();
    analyser.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let entries: Vec<Value> =
        transcript(&workshop).into_iter().filter(|entry| entry["link"] == "analyser").collect();
    let (said, rest) = entries.split_at(entries.iter().position(|entry| entry["step"] == "prepare").unwrap());
    assert!(said.iter().any(|entry| entry["text"].as_str().unwrap().contains("*IDN?")), "{said:?}");
    for entry in said {
        let mut line = bytes(entry);
        line.push(b'\n');
        if entry["direction"] == "to" {
            analyser.write_all(&line).unwrap();
        } else {
            let mut answer = vec![0; line.len()];
            analyser.read_exact(&mut answer).unwrap();
            assert_eq!(answer, line);
        }
    }
    analyser.write_all(b"*TST?\r\n").unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(4));
    let mut talk = String::new();
    child.stderr.as_mut().unwrap().read_to_string(&mut talk).unwrap();
    let number = said.iter().filter(|entry| entry["direction"] == "to").count() + 1;
    let recorded = rest[0]["text"].as_str().unwrap();
    let told =
        format!("message {number} to the analyser, in step `prepare`: recorded `{recorded}`, asked `*TST?`");
    assert!(talk.contains(&told), "{talk}");
}

#[test]
fn recorded_instruments_stop_when_told() {
    let workshop = recorded("", 1);
    let mut command = workshop.command(&["replay", "last", "--serve", "--json"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut text = String::new();
    while serde_json::from_str::<Value>(&text).is_err() {
        assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
    }
    let document: Value = serde_json::from_str(&text).unwrap();
    let names: Vec<_> =
        document["instruments"].as_array().unwrap().iter().map(|i| &i["instrument"]).collect();
    assert_eq!(names, ["relay", "unit-control", "analyser", "power-meter"]);
    signal("-TERM", &child);
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn the_transcript_is_shown_by_step_with_blocks_shortened() {
    let workshop = recorded("", 1);
    let shown = workshop.call(&["show", "last", "--transcript"]);
    assert_eq!(shown.exit, 0, "{shown:?}");
    for line in ["connect", "prepare", "one high"] {
        assert!(shown.out.lines().any(|shown| shown == line), "{}", shown.out);
    }
    let first = shown.out.lines().nth(1).unwrap();
    assert!(first.contains("  relay         -> "), "{first}");
    assert!(shown.out.contains("analyser      <- #41604<1604 bytes>;0;"), "{}", shown.out);
    let of_link = workshop.call(&["show", "last", "--transcript", "--link", "relay"]).out;
    assert!(of_link.contains("ROUT:CLOS (@1)") && !of_link.contains("analyser"), "{of_link}");
    let unknown = workshop.call(&["show", "last", "--transcript", "--link", "relais"]);
    assert_eq!(unknown.exit, 2, "{unknown:?}");
    assert!(unknown.talk.contains("its links are relay, unit-control, analyser, power-meter"), "{unknown:?}");
    let entries = transcript(&workshop);
    let trace = entries.iter().find(|entry| entry["base64"].is_string()).unwrap();
    assert!(bytes(trace).starts_with(b"#41604"), "{trace}");
}
