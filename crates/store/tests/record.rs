//! Runs go in and come out the same, while they are written, after a crash, and by part of their name.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

use std::path::Path;
use std::process::Command;

use spurline_record::{Acquisition, EventKind, Outcome, Reading, RunId, RunState, Sweep};
use spurline_store::{Direction, Recorder, Store, StoreError, TranscriptEntry};

mod specimen;

use proptest::prelude::*;
use specimen::{at, events, header};

fn record(folder: &Path, id: &str, first: usize) -> Recorder {
    let mut recorder = Store::open(folder).unwrap().into_recorder();
    for event in &events(id)[..first] {
        recorder.record(std::slice::from_ref(event)).unwrap();
    }
    recorder
}

fn started(folder: &Path, id: &str, second: i64) {
    let mut recorder = Store::open(folder).unwrap().into_recorder();
    let mut event = events(id).swap_remove(0);
    event.kind = EventKind::RunStarted(Box::new(header(id, second)));
    recorder.record(&[event]).unwrap();
}

fn name(id: &str) -> RunId {
    RunId::from_record(id.to_owned())
}

#[test]
fn a_whole_run_comes_back_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    drop(record(folder.path(), "20261125-103012-7c1e", 14));
    let stored = Store::open_read_only(folder.path()).unwrap().load(&name("20261125-103012-7c1e")).unwrap();
    let sent = events("20261125-103012-7c1e");
    assert_eq!(stored.events, sent);
    assert_eq!(stored.header, header("20261125-103012-7c1e", 0));
    assert_eq!(stored.readings, [specimen::carrier(1), specimen::reading(2), specimen::nothing(3)]);
    assert_eq!(stored.instruments.len(), 2);
    assert_eq!((stored.state, stored.outcome), (RunState::Failed, Some(Outcome::Undecided)));
    assert_eq!(stored.ended, Some(at(14)));
}

#[test]
fn the_columns_can_be_asked_without_this_program() {
    let folder = tempfile::tempdir().unwrap();
    drop(record(folder.path(), "r", 14));
    let raw = rusqlite::Connection::open(folder.path().join("record.sqlite")).unwrap();
    let row: (String, u32, f64, f64, f64, String, String) = raw
        .query_row(
            "SELECT quantity, harmonic_order, level_dbm, limit_dbm, expanded_uncertainty_db, outcome, at
             FROM reading WHERE ordinal = 2",
            [],
            |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?, r.get(5)?, r.get(6)?)),
        )
        .unwrap();
    let expected = ("harmonic", 3, -30.1, -16.020_599_913, 0.612, "complies");
    assert_eq!((row.0.as_str(), row.1, row.2, row.3, row.4, row.5.as_str()), expected);
    assert_eq!(row.6, "2026-11-25T10:30:34.123456789Z");
    let window: (f64, f64, String) = raw
        .query_row("SELECT limit_low, limit_high, unit FROM reading WHERE ordinal = 1", [], |r| {
            Ok((r.get(0)?, r.get(1)?, r.get(2)?))
        })
        .unwrap();
    assert_eq!(window, (4.0, 6.0, "W".to_owned()));
    let keys: Vec<(f64, Option<f64>)> = raw
        .prepare("SELECT lease_s, held_s FROM key ORDER BY down_at")
        .unwrap()
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(keys, [(20.0, Some(4.25)), (20.0, None)], "an open key has no length");
}

#[test]
fn a_run_without_its_end_stays_running() {
    let folder = tempfile::tempdir().unwrap();
    drop(record(folder.path(), "r", 8));
    let store = Store::open(folder.path()).unwrap();
    let stored = store.load(&name("r")).unwrap();
    assert_eq!(stored.readings, [specimen::carrier(1), specimen::reading(2)]);
    assert_eq!((stored.state, stored.ended, stored.outcome), (RunState::Running, None, None));
    let summary = store.runs().unwrap().remove(0);
    assert_eq!((summary.state, summary.readings, summary.simulated), (RunState::Running, 2, Some(u64::MAX)));
}

#[test]
fn every_acknowledged_reading_survives_the_death_of_its_process() {
    let folder = tempfile::tempdir().unwrap();
    let died = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "a_writer_that_dies", "--ignored"])
        .env("SPURLINE_TEST_FOLDER", folder.path())
        .output()
        .unwrap();
    assert!(!died.status.success(), "it was to die: {died:?}");
    let stored = Store::open(folder.path()).unwrap().load(&name("r")).unwrap();
    assert_eq!(stored.readings, [specimen::carrier(1), specimen::reading(2)]);
    assert_eq!(stored.events, events("r")[..8]);
}

#[test]
#[ignore = "the process that another test starts and sees die"]
fn a_writer_that_dies() {
    let folder = std::env::var_os("SPURLINE_TEST_FOLDER").expect("started by the other test");
    let _open = record(Path::new(&folder), "r", 8);
    std::process::abort();
}

#[test]
fn a_reader_sees_each_commit_while_the_writer_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = record(folder.path(), "r", 1);
    let reader = Store::open_read_only(folder.path()).unwrap();
    for (at, event) in events("r").iter().enumerate().skip(1) {
        recorder.record(std::slice::from_ref(event)).unwrap();
        assert_eq!(reader.load(&name("r")).unwrap().events.len(), at + 1);
    }
    assert_eq!(reader.runs().unwrap().len(), 1);
}

#[test]
fn the_transcript_keeps_order_and_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = record(folder.path(), "r", 1);
    let entry = |direction, bytes: &[u8]| TranscriptEntry {
        at: at(3),
        link: "analyser".into(),
        direction,
        step: "line 3".into(),
        bytes: bytes.to_owned(),
    };
    let sent = [entry(Direction::To, b"TRAC?\n"), entry(Direction::From, b"#14\x00\xff\n\x80\n")];
    recorder.transcript(&sent).unwrap();
    recorder.transcript(&sent[..1]).unwrap();
    let kept = recorder.into_store().transcript(&name("r")).unwrap();
    assert_eq!(kept.entries, [sent[0].clone(), sent[1].clone(), sent[0].clone()]);
    assert!(!kept.older);
}

#[test]
fn runs_are_found_by_last_by_name_and_by_the_start_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let empty = Store::open(folder.path()).unwrap();
    assert!(matches!(empty.resolve("last"), Err(StoreError::NoRuns { .. })));
    started(folder.path(), "20261125-103012-7c1e", 9);
    started(folder.path(), "20261125-103012-7c1", 3);
    started(folder.path(), "20261126-080000-0001", 5);
    let store = Store::open_read_only(folder.path()).unwrap();
    let ids: Vec<_> = store.runs().unwrap().into_iter().map(|run| run.id.to_string()).collect();
    assert_eq!(ids, ["20261125-103012-7c1e", "20261126-080000-0001", "20261125-103012-7c1"]);
    for (text, expected) in [
        ("last", "20261125-103012-7c1e"),
        ("20261126", "20261126-080000-0001"),
        ("20261125-103012-7c1e", "20261125-103012-7c1e"),
        ("20261125-103012-7c1", "20261125-103012-7c1"),
    ] {
        assert_eq!(store.resolve(text).unwrap().as_str(), expected, "{text}");
    }
    for text in ["", "2026112%", "________", "103012", "20261125-103012-7c1ef"] {
        assert!(matches!(store.resolve(text), Err(StoreError::UnknownRun { .. })), "{text}");
    }
    let error = store.resolve("20261125").unwrap_err();
    assert_eq!(
        error.to_string(),
        "`20261125` is the start of 2 runs: `20261125-103012-7c1e`, `20261125-103012-7c1`"
    );
    let error = store.load(&name("nowhere")).unwrap_err();
    assert!(error.to_string().starts_with("run `nowhere` not found in `"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn sweeps_of_any_bits_come_back(bits in prop::collection::vec(prop::collection::vec(any::<u32>(), 0..300), 0..4)) {
        let folder = tempfile::tempdir().unwrap();
        let mut recorder = record(folder.path(), "r", 1);
        let sweeps: Vec<Sweep> =
            bits.iter().map(|b| Sweep { levels: b.iter().copied().map(f32::from_bits).collect() }).collect();
        let whole = specimen::reading(1);
        let look = Acquisition { sweeps, ..whole.acquisitions[0].clone() };
        let reading = Reading { acquisitions: vec![look], ..whole };
        let mut event = events("r").swap_remove(6);
        event.kind = EventKind::ReadingFinished(Box::new(reading));
        recorder.record(&[event]).unwrap();
        let stored = recorder.into_store().load(&name("r")).unwrap();
        let back: Vec<Vec<u32>> = stored.readings[0].acquisitions[0]
            .sweeps
            .iter()
            .map(|sweep| sweep.levels.iter().map(|level| level.to_bits()).collect())
            .collect();
        prop_assert_eq!(back, bits);
    }

    #[test]
    fn no_name_panics(text in "\\PC{0,30}") {
        let folder = tempfile::tempdir().unwrap();
        started(folder.path(), "20261125-103012-7c1e", 1);
        drop(Store::open_read_only(folder.path()).unwrap().resolve(&text));
    }
}
