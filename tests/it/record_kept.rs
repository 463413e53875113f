//! The record as a user meets it: where it may not be written, on a full disk, pruned, sent, and asked wrongly.

use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::bench::{Called, Workshop, plan, program, shipped, simulated_bench};

/// A user without any right of its own.
const NOBODY: &str = "65534";

/// The program as somebody who may write nowhere in the workshop; `None` where that cannot be had, which is said.
fn as_nobody(workshop: &Workshop, arguments: &[&str]) -> Option<Called> {
    let mut command = Command::new("setpriv");
    command.args(["--reuid", NOBODY, "--regid", NOBODY, "--clear-groups", "--"]);
    command.arg(program()).args(arguments).current_dir(workshop.folder.path());
    command.env("SPURLINE_DATA", workshop.path("data")).env("NO_COLOR", "1");
    let output = command.output().ok()?;
    let called = Called {
        exit: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        talk: String::from_utf8(output.stderr).unwrap(),
    };
    // Where it could not become another user, or that user not reach the program, it has not begun.
    if called.talk.starts_with("setpriv: ") {
        drop(writeln!(std::io::stderr(), "skipped: no other user can be had here: {}", called.talk));
        return None;
    }
    Some(called)
}

fn open_to_all(workshop: &Workshop) {
    let set = |path: &Path, mode| std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).unwrap();
    set(workshop.folder.path(), 0o755);
    set(&workshop.path("data"), 0o755);
}

fn names(folder: &Path) -> Vec<String> {
    let names = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
    names.sort();
    names
}

/// A run of one state, whole.
fn measured() -> Workshop {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(1, ""));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 1, "a harmonic exceeds: {called:?}");
    workshop
}

#[test]
fn a_record_in_a_folder_of_somebody_else_can_be_looked_at() {
    let workshop = measured();
    open_to_all(&workshop);
    let before = names(&workshop.path("data"));
    for arguments in [
        &["runs"][..],
        &["show", "last"],
        &["show", "last", "--reading", "1"],
        &["report", "last"],
        &["verify", "last"],
        &["verify", "--all"],
        &["prune", "last", "--dry-run"],
    ] {
        let Some(called) = as_nobody(&workshop, arguments) else { return };
        assert_eq!(called.exit, 0, "{arguments:?}: {called:?}");
        let own = workshop.call(arguments);
        assert_eq!((own.exit, own.out), (0, called.out), "{arguments:?}");
    }
    assert_eq!(names(&workshop.path("data")), before, "nothing is left behind");
}

#[test]
fn a_log_that_cannot_be_read_is_told_with_what_to_do() {
    let workshop = measured();
    open_to_all(&workshop);
    // A writer that died: its log is there, the index of the log is not.
    let data = workshop.path("data");
    let writer = rusqlite::Connection::open(data.join("record.sqlite")).unwrap();
    writer.execute_batch("PRAGMA journal_mode = WAL; UPDATE run SET plan = 'other'").unwrap();
    let log = std::fs::read(data.join("record.sqlite-wal")).unwrap();
    drop(writer);
    std::fs::write(data.join("record.sqlite-wal"), log).unwrap();
    let Some(called) = as_nobody(&workshop, &["runs", "--json"]) else { return };
    assert_eq!(called.exit, 5, "{called:?}");
    for told in ["record.sqlite-wal", "holds what was recorded last", "copy the whole folder"] {
        assert!(called.talk.contains(told), "{told}: {called:?}");
    }
    assert_eq!(called.json()["error"]["exit_status"], 5);
}

#[test]
fn nothing_is_keyed_where_nothing_can_be_recorded() {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(1, ""));
    std::fs::create_dir(workshop.path("data")).unwrap();
    open_to_all(&workshop);
    let Some(called) = as_nobody(&workshop, &["run", "plan.yaml", "--json"]) else { return };
    assert_eq!(called.exit, 5, "{called:?}");
    assert!(!called.talk.contains("KEY DOWN") && called.talk.contains("  help: "), "{called:?}");
    assert_eq!(called.json()["error"]["exit_status"], 5);
    // A record that is there and may only be read.
    let workshop = measured();
    open_to_all(&workshop);
    let before = std::fs::read(workshop.path("data/record.sqlite")).unwrap();
    let called = as_nobody(&workshop, &["run", "plan.yaml"]).unwrap();
    assert_eq!(called.exit, 5, "{called:?}");
    assert!(!called.talk.contains("KEY DOWN"), "{called:?}");
    assert!(std::fs::read(workshop.path("data/record.sqlite")).unwrap() == before);
}

/// The numbers of the readings whose lines were printed.
fn printed(talk: &str) -> Vec<u32> {
    talk.lines().filter_map(|line| line.split_whitespace().next()?.parse().ok()).collect()
}

/// The disk fills up in mid-run, by a limit on the size of files; then there is room again.
#[test]
fn what_was_acknowledged_before_the_disk_was_full_is_there_and_the_run_goes_on() {
    let workshop = shipped(("demo", "demo"), &[], &[]);
    let script = r#"ulimit -f 1200; exec "$0" run plan.yaml "$@""#;
    let full = |more: &[&str], data: &str| {
        let mut command = Command::new("bash");
        command.arg("-c").arg(script).arg(program()).args(more).current_dir(workshop.folder.path());
        command.env("SPURLINE_DATA", workshop.path(data)).output().unwrap()
    };
    let in_json: Value = serde_json::from_slice(&full(&["--json"], "other").stdout).unwrap();
    assert_eq!(in_json["error"]["exit_status"], 5, "{in_json:#}");
    assert!(
        in_json["error"]["advice"].is_string() && !in_json["error"]["causes"].as_array().unwrap().is_empty()
    );
    let output = full(&[], "data");
    let talk = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(5), "{talk}");
    let told = printed(&talk);
    assert!(!told.is_empty(), "{talk}");
    // Nobody is left in doubt whether the key is up, kept or not.
    let of = |words| talk.matches(words).count();
    assert!(of("KEY DOWN") > 0 && of("KEY DOWN") == of("key up after"), "{talk}");
    let shown = workshop.call(&["show", "last", "--json"]).json();
    let ordinals = |document: &Value| {
        let readings = document["readings"].as_array().unwrap().iter();
        readings.map(|reading| reading["number"].as_u64().unwrap() as u32).collect::<Vec<_>>()
    };
    let kept = ordinals(&shown);
    assert!(told.iter().all(|number| kept.contains(number)), "{told:?} of {kept:?}: {talk}");
    assert_eq!(workshop.call(&["verify", "last"]).exit, 0);
    let resumed = workshop.call(&["resume", "last", "--json"]);
    assert_eq!(resumed.exit, 1, "the demonstration exceeds: {resumed:?}");
    assert!(resumed.talk.contains(&format!("goes on with {} readings that hold", kept.len())), "{resumed:?}");
    assert_eq!(ordinals(&resumed.json()).len(), 30);
    let list = workshop.call(&["runs", "--json"]).json();
    assert_eq!(list["runs"][0]["readings"], 30);
}

/// Readings of a piece that was half done when somebody stopped it do not count when it has gone on.
#[test]
fn readings_that_were_set_aside_are_not_counted() {
    let workshop = measured();
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    let counted = || workshop.call(&["runs", "--json"]).json()["runs"][0]["readings"].as_u64().unwrap();
    let all = counted();
    let detail = r#"{"resumed":{"software":"x","stood":"interrupted","set_aside":[1,2],"key_was_down":false,"notes":[]}}"#;
    let last = "SELECT id, 999, started, 'resumed', ?1 FROM run";
    record.execute(&format!("INSERT INTO event (run, sequence, at, kind, detail) {last}"), [detail]).unwrap();
    assert_eq!(counted(), all - 2);
}

#[test]
fn wrong_usage_is_a_json_document_where_one_is_asked_for() {
    let workshop = Workshop::new();
    for arguments in [
        &["run", "--json"][..],
        &["runs", "--json", "--nonsense"],
        &["no-such-command", "--json"],
        &["verify", "--json"],
        &["prune", "--json"],
        &["report", "--format", "json"],
    ] {
        let called = workshop.call(arguments);
        assert_eq!(called.exit, 2, "{arguments:?}: {called:?}");
        let error = &called.json()["error"];
        assert_eq!(error["exit_status"], 2, "{called:?}");
        assert!(error["message"].as_str().is_some_and(|message| !message.is_empty()), "{called:?}");
        assert!(error["advice"].as_str().is_some_and(|advice| !advice.is_empty()), "{called:?}");
        assert!(called.talk.starts_with("error: "), "{called:?}");
    }
    let called = workshop.call(&["run", "--nonsense"]);
    assert_eq!((called.exit, called.out.as_str()), (2, ""));
    assert_eq!(workshop.call(&["--help"]).exit, 0);
    assert!(workshop.call(&["--version"]).out.starts_with("spurline "));
    for command in ["verify", "prune"] {
        let called = workshop.call(&[command]);
        assert!(called.talk.contains("`spurline runs` lists their names"), "{called:?}");
    }
}

#[test]
fn a_pruned_run_says_so_wherever_its_levels_would_be() {
    let workshop = measured();
    let pruned = workshop.call(&["prune", "last"]);
    assert_eq!(pruned.exit, 0, "{pruned:?}");
    for arguments in
        [&["show", "last"][..], &["show", "last", "--reading", "1"], &["report", "last"], &["verify", "last"]]
    {
        let called = workshop.call(arguments);
        assert!(called.exit == 0 && called.out.contains("pruned on "), "{arguments:?}: {called:?}");
    }
}

/// A signature vouches for what was signed, and for nothing that was put in its place.
#[test]
fn a_signature_over_what_a_run_was_is_told_as_such() {
    let workshop = measured();
    assert_eq!(workshop.call(&["sign", "--new-key", "k1"]).exit, 0);
    let wrong = workshop.call(&["sign", "last", "--key", "k1.pub"]);
    assert!(wrong.exit == 2 && wrong.talk.contains("found a public one"), "{wrong:?}");
    assert!(!wrong.talk.contains("chmod"), "{wrong:?}");
    assert_eq!(workshop.call(&["sign", "last", "--key", "k1"]).exit, 0);
    let with_key = ["verify", "last", "--public-key", "k1.pub"];
    let whole = workshop.call(&with_key);
    assert!(whole.exit == 0 && whole.out.contains("signed as it is on"), "{whole:?}");
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    assert_eq!(record.execute("UPDATE text SET text = text || ' ' WHERE role = 'plan'", []).unwrap(), 1);
    let broken = workshop.call(&with_key);
    let out = broken.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(broken.exit == 1 && out.contains("BROKEN") && !out.contains("signed as it is"), "{out}");
    assert!(out.contains("over the run as it was then, before it was altered: it does not vouch"), "{out}");
    let document = workshop.call(&[&with_key[..], &["--json"]].concat()).json();
    assert_eq!(document["signed_by_key"], false, "{document:#}");
}

/// What never was an export is not a damaged one.
#[test]
fn a_file_of_another_kind_is_no_damaged_export() {
    let workshop = Workshop::new();
    for text in ["<testsuites/>\n", ""] {
        workshop.write("report.xml", text);
        let called = workshop.call(&["import", "report.xml"]);
        assert!(
            called.exit == 2 && called.talk.contains("is no file that `spurline export` wrote"),
            "{called:?}"
        );
        assert!(!called.talk.contains("damaged") && !workshop.path("data").exists(), "{called:?}");
    }
}

/// A simulated clock may be ahead of that of the machine.
#[test]
fn what_is_not_pruned_is_named_with_the_reason() {
    let workshop = measured();
    let name = workshop.call(&["runs", "--json"]).json()["runs"][0]["run"].as_str().unwrap().to_owned();
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record.execute("UPDATE run SET ended = '2999-01-01T00:00:00.000000000Z'", []).unwrap();
    let called = workshop.call(&["prune", "--older-than", "1d"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let told = format!("left alone: run `{name}` ends at 2999-01-01");
    assert!(called.talk.contains(&told), "{called:?}");
    // One that goes on, named: it is refused, with and without `--dry-run`.
    record.execute("DELETE FROM event WHERE kind = 'run-ended'", []).unwrap();
    record.execute("UPDATE run SET state = 'running', ended = NULL, outcome = NULL", []).unwrap();
    for arguments in [&["prune", "last"][..], &["prune", "last", "--dry-run"]] {
        let called = workshop.call(arguments);
        assert!(called.exit == 5 || called.exit == 2, "{called:?}");
        assert!(called.talk.contains(&name), "{called:?}");
    }
}

#[test]
fn a_file_that_is_not_taken_is_named_and_the_record_is_not_blamed() {
    let workshop = measured();
    assert_eq!(workshop.call(&["export", "last", "--out", "sent.sqlite"]).exit, 0);
    let same = workshop.call(&["import", "sent.sqlite", "--json"]).json();
    assert_eq!((same["new"].as_bool(), same["verdicts"].as_u64()), (Some(false), Some(0)));
    let judged = workshop.call(&["judge", "last", "--decision", "simple"]);
    assert!([0, 1, 3].contains(&judged.exit), "{judged:?}");
    assert_eq!(workshop.call(&["export", "last", "--out", "judged.sqlite"]).exit, 0);
    let elsewhere = ["--data", "elsewhere"];
    let import = |file: &'static str| workshop.call(&[&["import", file][..], &elsewhere].concat());
    assert_eq!(import("sent.sqlite").exit, 0);
    let more = import("judged.sqlite");
    assert!(more.exit == 0 && more.talk.contains("taken in that is new: 1 verdict"), "{more:?}");
    let broken = rusqlite::Connection::open(workshop.path("sent.sqlite")).unwrap();
    broken.execute("UPDATE reading SET detail = '{' WHERE ordinal = 1", []).unwrap();
    std::fs::write(workshop.path("text.sqlite"), "no database at all, ".repeat(99)).unwrap();
    for file in ["sent.sqlite", "text.sqlite", "gone.sqlite"] {
        let called = import(file);
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains(file) && !called.talk.contains("elsewhere"), "{called:?}");
        // A folder that was not there is not there afterwards.
        let fresh = workshop.call(&["import", file, "--data", "fresh"]);
        assert_eq!(fresh.exit, 2, "{fresh:?}");
        assert!(!workshop.path("fresh").exists(), "{file} has left a record behind");
    }
}

#[test]
fn an_export_into_no_folder_names_it() {
    let workshop = measured();
    for (out, words) in [
        ("nowhere/sent.sqlite", "--out: there is no folder `nowhere` for `nowhere/sent.sqlite`"),
        ("data/", "--out: expected a file, found the folder `data/`"),
        ("data", "--out: expected a file, found the folder `data`"),
    ] {
        let called = workshop.call(&["export", "last", "--out", out]);
        assert!(called.exit == 2 && called.talk.contains(words), "{called:?}");
        assert!(called.talk.contains("help: "), "{called:?}");
    }
}

/// Whoever meets a damaged record is told what to keep, how to find out what is whole, and where the rest comes back from.
#[test]
fn a_damaged_record_is_told_with_the_way_back() {
    let workshop = measured();
    let file = workshop.path("data/record.sqlite");
    let record = rusqlite::Connection::open(&file).unwrap();
    record.execute("UPDATE sweep SET n = n + 1", []).unwrap();
    drop(record);
    let called = workshop.call(&["report", "last"]);
    assert_eq!(called.exit, 5, "{called:?}");
    let told = called.talk.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["`spurline verify", "`spurline export` wrote", "`spurline import FILE --data NEW`", "copy"]
    {
        assert!(told.contains(words), "{words}: {called:?}");
    }
}

#[test]
fn a_run_that_was_written_into_is_not_judged() {
    let workshop = measured();
    let record = rusqlite::Connection::open(workshop.path("data/record.sqlite")).unwrap();
    record.execute("UPDATE acquisition SET attenuation_db = 0 WHERE reading = 2", []).unwrap();
    let called = workshop.call(&["judge", "last", "--decision", "simple"]);
    assert_eq!(called.exit, 5, "{called:?}");
    assert!(
        called.talk.contains("is not what was recorded") && called.talk.contains("`spurline verify`"),
        "{called:?}"
    );
}
