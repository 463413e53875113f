//! The recorder where it fails: these tests reach into its connection.

use std::error::Error;

use spurline_record::{EventKind, Limit, Reading, RunState};

use super::*;
use crate::{Direction, TranscriptEntry};

use crate::specimen::{at, carrier, events, reading};

fn finished(reading: Reading, sequence: u64) -> Event {
    Event { sequence, at: at(0), kind: EventKind::ReadingFinished(Box::new(reading)) }
}

fn entry(bytes: usize) -> TranscriptEntry {
    TranscriptEntry {
        at: at(0),
        link: "analyser".into(),
        direction: Direction::From,
        step: "line".into(),
        // Something that does not compress.
        bytes: (1u32..).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).take(bytes).collect(),
    }
}

fn started(folder: &std::path::Path) -> Recorder {
    let mut recorder = Store::open(folder).unwrap().into_recorder();
    recorder.record(&events("r")[0..=0]).unwrap();
    recorder
}

#[test]
fn a_recorder_can_be_owned_by_a_thread() {
    fn needs_send<T: Send>() {}
    needs_send::<Recorder>();
}

/// SQLite's own limit on pages stands in for a full disk: the error code is the same.
#[test]
fn a_full_disk_stops_the_recorder_and_loses_nothing_that_was_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = started(folder.path());
    recorder.record(&[finished(reading(1), 2)]).unwrap();
    let pages: i64 =
        recorder.store.connection.turn().pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
    recorder.store.connection.turn().pragma_update(None, "max_page_count", pages + 2).unwrap();

    let error = recorder.transcript(&[entry(1 << 20)]).unwrap_err();
    assert!(matches!(error, StoreError::Write { .. }), "{error}");
    assert!(error.to_string().contains("record.sqlite"), "{error}");
    assert!(error.source().unwrap().to_string().contains("full"), "{:?}", error.source());

    // A small event would fit, but after a failed write nothing is acknowledged any more.
    let error = recorder.record(&events("r")[11..=11]).unwrap_err();
    assert!(matches!(error, StoreError::Stopped { .. }), "{error}");
    assert!(matches!(recorder.transcript(&[]), Err(StoreError::Stopped { .. })));
    drop(recorder);

    let stored = Store::open(folder.path()).unwrap().load(&RunId::from_record("r".to_owned())).unwrap();
    assert_eq!(stored.readings, [reading(1)]);
    assert_eq!(stored.events.len(), 2);
    assert_eq!(stored.state, RunState::Running);
}

/// The last sweep of the reading fails: neither the reading nor its event may stay.
#[test]
fn half_a_reading_is_never_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = started(folder.path());
    recorder
        .store
        .connection
        .turn()
        .execute_batch(
            "CREATE TRIGGER stop BEFORE INSERT ON sweep WHEN new.acquisition = 2
             BEGIN SELECT raise(ABORT, 'medium error'); END",
        )
        .unwrap();
    let error = recorder.record(&[finished(reading(1), 2)]).unwrap_err();
    assert!(error.source().unwrap().to_string().contains("medium error"), "{error}");
    for table in ["reading", "acquisition", "sweep"] {
        let query = format!("SELECT count(*) FROM {table}");
        let rows: i64 = recorder.store.connection.turn().query_row(&query, [], |row| row.get(0)).unwrap();
        assert_eq!(rows, 0, "{table}");
    }
}

#[test]
fn what_is_not_a_number_reaches_no_column() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = started(folder.path());
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut value = carrier(1);
        value.figure.as_mut().unwrap().value = bad;
        let window = Reading { limit: Some(Limit::Window { low: 1.0, high: bad }), ..carrier(1) };
        let chance = Reading { conformance_probability: Some(bad), ..carrier(1) };
        let mut factor = carrier(1);
        factor.budget.as_mut().unwrap().coverage_factor = bad;
        for (reading, named) in [
            (value, "value"),
            (window, "limit_high"),
            (chance, "conformance_probability"),
            (factor, "coverage_factor"),
        ] {
            match recorder.record(&[finished(reading, 2)]) {
                Err(StoreError::NotFinite { ordinal: 1, field }) => assert_eq!(field, named),
                other => panic!("{named}: {other:?}"),
            }
        }
    }
    recorder.record(&[finished(carrier(1), 2)]).expect("a refused reading was never begun to be written");
}

#[test]
fn a_run_starts_first_and_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    assert!(matches!(recorder.record(&events("r")[4..=4]), Err(StoreError::NotStarted { .. })));
    assert!(matches!(recorder.transcript(&[]), Err(StoreError::NotStarted { .. })));
    recorder.record(&events("r")[0..=0]).unwrap();
    let error = recorder.record(&events("s")[0..=0]).unwrap_err();
    assert_eq!(error.to_string(), "expected one run a recorder, found run `s` after run `r`");
}

#[test]
fn lost_rows_are_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = started(folder.path());
    recorder.record(&[finished(reading(1), 2)]).unwrap();
    let store = recorder.into_store();
    let run = store.resolve("r").unwrap();
    store.connection.turn().execute("DELETE FROM sweep WHERE acquisition = 1 AND ordinal = 5", []).unwrap();
    let error = store.load(&run).unwrap_err();
    let cause = error.source().unwrap().source().unwrap();
    assert_eq!(cause.to_string(), "expected 5 sweeps in reading 1, found 4");
    store.connection.turn().execute("UPDATE sweep SET codec = 9", []).unwrap();
    let error = store.load(&run).unwrap_err();
    assert_eq!(error.source().unwrap().source().unwrap().to_string(), "expected codec 0, 1 or 2, found 9");
}
