//! A record of schema 1 is read as it is, and goes on as one of the present schema.

use std::error::Error;
use std::path::Path;

use rusqlite::Connection;
use spurline_record::RunId;

use super::*;
use crate::open::{RECORD_FILE, Store};
use crate::transcript::{Direction, TranscriptEntry};
use crate::verify::Standing;

use crate::specimen::{at, events};

/// A record as an earlier schema had it: the whole specimen run, and of schema 1 one row a message. Its rows are those
/// that are written now, without the columns that came later.
fn earlier(folder: &Path, version: usize) {
    let now = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(now.path()).unwrap().into_recorder();
    recorder.record(&events("r")).unwrap();
    if version > 1 {
        recorder.transcript(&[entry(3, Direction::To, b"*IDN?")]).unwrap();
    }
    drop(recorder);
    let connection = Connection::open(folder.join(RECORD_FILE)).unwrap();
    for step in &STEPS[..version] {
        connection.execute_batch(step).unwrap();
    }
    connection.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
    connection.pragma_update(None, "user_version", version as i64).unwrap();
    let now = now.path().join(RECORD_FILE);
    connection.execute("ATTACH ?1 AS now", [now.to_str().unwrap()]).unwrap();
    let tables =
        ["run", "text", "instrument", "reading", "acquisition", "sweep", "event", "transcript_batch"];
    for table in tables.iter().take(if version > 1 { 8 } else { 7 }) {
        let columns: String = connection
            .query_row("SELECT group_concat(name, ', ') FROM pragma_table_info(?1, 'main')", [table], |row| {
                row.get(0)
            })
            .unwrap();
        let copy = format!("INSERT INTO main.{table} ({columns}) SELECT {columns} FROM now.{table}");
        connection.execute(&copy, []).unwrap();
    }
    if version == 1 {
        let messages = "INSERT INTO transcript (run, at, link, direction, step, bytes) VALUES
             ('r', '2026-11-25T10:30:15.123456789Z', 'relay', 'to', 'connect', CAST('*IDN?' AS BLOB)),
             ('r', '2026-11-25T10:30:16.123456789Z', 'relay', 'from', 'connect', x'ff00')";
        connection.execute_batch(messages).unwrap();
    }
}

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

fn entry(second: i64, direction: Direction, bytes: &[u8]) -> TranscriptEntry {
    let step = "connect".into();
    TranscriptEntry { at: at(second), link: "relay".into(), direction, step, bytes: bytes.to_owned() }
}

fn version(store: &Store) -> i64 {
    store.connection.turn().pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
}

#[test]
fn looking_at_an_older_record_changes_nothing_and_shows_all_of_it() {
    let folder = tempfile::tempdir().unwrap();
    earlier(folder.path(), 1);
    let before = std::fs::read(folder.path().join(RECORD_FILE)).unwrap();
    let store = Store::open_read_only(folder.path()).unwrap();
    assert_eq!(store.load(&run()).unwrap().events, events("r"));
    assert_eq!(store.runs().unwrap().len(), 1);
    let kept = store.transcript(&run()).unwrap();
    let expected = [entry(3, Direction::To, b"*IDN?"), entry(4, Direction::From, &[0xff, 0])];
    assert_eq!((kept.entries.as_slice(), kept.older), (&expected[..], true));
    assert_eq!(version(&store), 1);
    assert_eq!(
        (store.newest_proof("bench", "A-1", None, at(9)).unwrap(), store.proofs().unwrap()),
        (None, Vec::new())
    );
    assert_eq!(std::fs::read(folder.path().join(RECORD_FILE)).unwrap(), before);
}

/// Every earlier schema: read as it is, then brought up to date without loss; new runs have a chain.
#[test]
fn every_earlier_schema_is_read_and_goes_on() {
    for schema in 1..STEPS.len() {
        let folder = tempfile::tempdir().unwrap();
        earlier(folder.path(), schema);
        let reader = Store::open_read_only(folder.path()).unwrap();
        assert_eq!(version(&reader), schema as i64);
        let as_it_is =
            (reader.load(&run()).unwrap(), reader.transcript(&run()).unwrap(), reader.runs().unwrap());
        assert_eq!(as_it_is.0.events, events("r"), "schema {schema}");
        assert_eq!(
            (as_it_is.1.entries[0].clone(), as_it_is.1.older),
            (entry(3, Direction::To, b"*IDN?"), schema == 1)
        );
        assert_eq!(as_it_is.2[0].readings, 3);
        let before = reader.verify(&run()).unwrap();
        // Schema 4 brought the chains.
        let standing = if schema < 4 { Standing::Unchained } else { Standing::Whole };
        assert_eq!((before.standing, before.head.is_some()), (standing, schema >= 4));
        drop(reader);

        let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
        recorder.record(&events("s")).unwrap();
        let store = recorder.into_store();
        assert_eq!(version(&store), VERSION);
        let runs = store.runs().unwrap().into_iter().find(|summary| summary.id == run()).unwrap();
        assert_eq!(
            (store.load(&run()).unwrap(), store.transcript(&run()).unwrap()),
            (as_it_is.0, as_it_is.1)
        );
        assert_eq!(runs, as_it_is.2[0]);
        assert_eq!(store.verify(&run()).unwrap(), before);
        let new = store.verify(&RunId::from_record("s".to_owned())).unwrap();
        assert_eq!((new.standing, new.links), (Standing::Whole, events("s").len() as u64));
    }
}

#[test]
fn an_older_record_that_is_written_to_is_brought_up_to_date_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    earlier(folder.path(), 1);
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    recorder.record(&events("s")[0..=0]).unwrap();
    recorder.transcript(&[entry(7, Direction::Lost, b"gone")]).unwrap();
    let store = recorder.into_store();
    assert_eq!(version(&store), VERSION);
    assert_eq!(store.load(&run()).unwrap().events, events("r"));
    assert_eq!(store.transcript(&run()).unwrap().entries.len(), 2);
    let new = store.transcript(&RunId::from_record("s".to_owned())).unwrap();
    assert_eq!((new.entries, new.older), (vec![entry(7, Direction::Lost, b"gone")], false));
}

/// A record of schema 2 knows no proofs; written to, it has a table for them and still its runs.
#[test]
fn a_record_without_proofs_takes_them() {
    let folder = tempfile::tempdir().unwrap();
    earlier(folder.path(), 2);
    assert_eq!(Store::open_read_only(folder.path()).unwrap().proofs().unwrap(), Vec::new());
    let store = Store::open(folder.path()).unwrap();
    assert_eq!((version(&store), store.proofs().unwrap().len()), (VERSION, 0));
    assert_eq!(store.load(&run()).unwrap().events, events("r"));
}

/// Rows that are small and would become large: the sum is what counts.
#[test]
fn many_batches_that_claim_much_are_refused_together() {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    recorder.record(&events("s")[0..=0]).unwrap();
    recorder.transcript(&[entry(7, Direction::From, &[0; 90 << 20])]).unwrap();
    let store = recorder.into_store();
    let kept: i64 = store
        .connection
        .turn()
        .query_row("SELECT length(data) FROM transcript_batch", [], |row| row.get(0))
        .unwrap();
    assert!(kept < 1 << 20, "{kept}");
    for _ in 0..11 {
        let again = "INSERT INTO transcript_batch (run, entries, size, codec, data)
                     SELECT run, entries, size, codec, data FROM transcript_batch LIMIT 1";
        store.connection.turn().execute(again, []).unwrap();
    }
    let error = store.transcript(&RunId::from_record("s".to_owned())).unwrap_err();
    let cause = error.source().unwrap().source().unwrap().to_string();
    assert_eq!(cause, "expected a transcript of at most 1073741824 bytes in memory, found a larger one");
}
