//! Every column of every table, damaged one at a time: `verify` says so, or it is named here with the reason.

use rusqlite::types::Value;
use rusqlite::{Connection, params};
use spurline_record::{JudgedFrom, Outcome, Reading, Replaced, RunId, Verdict, VerdictReading};

use super::*;
use crate::copy::TABLES;
use crate::open::RECORD_FILE;
use crate::specimen::{at, events};
use crate::{Direction, Prunable, SecretKey, TranscriptEntry};

/// What nothing shows when it is changed, and why.
const NOT_COVERED: [(&str, &str, &str); 4] = [
    (
        "transcript_batch",
        "ordinal",
        "numbered anew in another record; where the order of two changes, that shows",
    ),
    (
        "pruning",
        "software",
        "a pruning is made long after the chain has ended; another date does not show either",
    ),
    ("pruning", "size", "how large the coded levels were cannot be worked out any more; below zero shows"),
    ("pruning", "id", "only the order of prunings follows from it"),
];

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

/// A run with something in every table but that of early transcripts, whose levels are there or were pruned.
fn record(pruned: bool) -> (tempfile::TempDir, Connection) {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    let entry = TranscriptEntry {
        at: at(1),
        link: "analyser".into(),
        direction: Direction::From,
        step: "line".into(),
        bytes: b"#14abcd".to_vec(),
    };
    recorder.record_with(&events("r"), &[entry]).unwrap();
    let store = recorder.into_store();
    let stored = store.load(&run()).unwrap();
    let readings = stored.readings.iter().map(|reading| VerdictReading {
        from: JudgedFrom::Raw,
        reading: Reading { acquisitions: Vec::new(), ..reading.clone() },
    });
    let replaced = Replaced { what: "rule".to_owned(), from: "one".to_owned(), to: "two".to_owned() };
    let verdict = Verdict {
        run: run(),
        number: 0,
        at: at(90),
        replaced: vec![replaced],
        outcome: Some(Outcome::Undecided),
        head: None,
        header: stored.header.clone(),
        readings: readings.collect(),
    };
    store.keep_verdict(verdict.clone()).unwrap();
    let mut with_text = verdict;
    with_text.header.texts[0].text.push_str("# another\n");
    store.keep_verdict(with_text).unwrap();
    let (key, _) = SecretKey::make(&folder.path().join("key")).unwrap();
    store.sign(&run(), &key, at(91), "test 1").unwrap();
    if pruned {
        store.prune(&run(), Prunable::Sweeps, at(92), "test 1").unwrap();
        store.prune(&run(), Prunable::Transcript, at(92), "test 1").unwrap();
    }
    drop(store);
    let raw = Connection::open(folder.path().join(RECORD_FILE)).unwrap();
    raw.execute_batch(
        "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON; PRAGMA journal_mode = DELETE;
         DROP TRIGGER verdict_stays; DROP TRIGGER verdict_text_stays; DROP TRIGGER verdict_reading_stays;",
    )
    .unwrap();
    (folder, raw)
}

/// Whether somebody who asks is told.
fn is_told(folder: &tempfile::TempDir) -> bool {
    let Ok(store) = Store::open_read_only(folder.path()) else { return true };
    let whole = |found: &Verification| found.standing == Standing::Whole;
    !(store.verify(&run()).is_ok_and(|found| whole(&found))
        && store.broken_verdicts(&run()).is_ok_and(|broken| broken.is_empty())
        && store.integrity().is_ok_and(|found| found.is_empty()))
}

fn columns(raw: &Connection, table: &str) -> Vec<(String, String)> {
    raw.prepare("SELECT name, type FROM pragma_table_info(?1)")
        .unwrap()
        .query_map([table], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect()
}

/// Another value of the same kind; of an empty one something that the column takes.
fn damaged(value: &Value, kind: &str) -> Value {
    match (value, kind) {
        (Value::Null, "TEXT") => Value::Text("x".to_owned()),
        (Value::Null, "BLOB") => Value::Blob(vec![1; 32]),
        (Value::Null, "REAL") => Value::Real(1.5),
        (Value::Null, _) => Value::Integer(1),
        // Far from all others: a place that is taken is refused by the file itself.
        (Value::Integer(number @ (0 | 1)), _) => Value::Integer(1 - number),
        (Value::Integer(number), _) => Value::Integer(number + 1000),
        (Value::Real(number), _) => Value::Real(number + 1.0),
        (Value::Text(text), _) => Value::Text(format!("{text}x")),
        (Value::Blob(bytes), _) if bytes.is_empty() => Value::Blob(vec![1]),
        (Value::Blob(bytes), _) => {
            let mut other = bytes.clone();
            other[bytes.len() / 2] ^= 1;
            Value::Blob(other)
        }
    }
}

#[test]
fn every_column_of_every_row_that_is_changed_shows() {
    let mut quiet: Vec<(&str, String)> = Vec::new();
    let mut tried = 0;
    for pruned in [false, true] {
        let (folder, raw) = record(pruned);
        assert!(!is_told(&folder), "it is whole before");
        for (table, _, _) in TABLES.into_iter().filter(|(table, ..)| *table != "transcript") {
            let rows: Vec<i64> = raw
                .prepare(&format!("SELECT rowid FROM {table}"))
                .unwrap()
                .query_map([], |row| row.get(0))
                .unwrap()
                .map(Result::unwrap)
                .collect();
            assert!(!rows.is_empty() || (table == "pruning" && !pruned), "{table} is empty");
            // Of many rows the first, the last and one between: all are treated alike.
            let some = [rows.first(), rows.get(rows.len() / 2), rows.last()];
            let mut some: Vec<i64> = some.into_iter().flatten().copied().collect();
            some.dedup();
            for (column, kind) in columns(&raw, table) {
                for rowid in &some {
                    let set = format!("UPDATE {table} SET {column} = ?1 WHERE rowid = ?2");
                    let get = format!("SELECT {column} FROM {table} WHERE rowid = ?1");
                    let was: Value = raw.query_row(&get, [rowid], |row| row.get(0)).unwrap();
                    raw.execute_batch("BEGIN").unwrap();
                    let changed = raw.execute(&set, params![damaged(&was, &kind), rowid]);
                    if changed.is_err() {
                        raw.execute_batch("ROLLBACK").unwrap();
                        continue;
                    }
                    raw.execute_batch("COMMIT").unwrap();
                    tried += 1;
                    if !is_told(&folder) {
                        quiet.push((table, column.clone()));
                    }
                    // A column that is the row's own number has moved the row.
                    let moved = raw.query_row(&get, [rowid], |row| row.get::<_, Value>(0)).is_err();
                    let at = if moved { damaged(&was, &kind) } else { Value::Integer(*rowid) };
                    assert_eq!(raw.execute(&set, params![was, at]).unwrap(), 1, "{table}.{column}");
                }
            }
        }
        assert!(!is_told(&folder), "it is whole after");
    }
    quiet.sort();
    quiet.dedup();
    let known = NOT_COVERED.iter().map(|(table, column, _)| (*table, (*column).to_owned()));
    let mut known: Vec<(&str, String)> = known.collect();
    known.sort();
    assert!(tried > 400, "{tried}");
    assert_eq!(quiet, known, "nothing tells, or more does than is said");
}

#[test]
fn what_prunings_say_is_compared_with_what_is_gone() {
    for change in [
        "UPDATE pruning SET items = items + 1 WHERE what = 'sweeps'",
        "UPDATE pruning SET items = -items WHERE what = 'transcript'",
        "UPDATE pruning SET size = -1 WHERE what = 'sweeps'",
        "DELETE FROM pruning WHERE what = 'sweeps'",
        "INSERT INTO pruning SELECT id + 10, run, at, what, items, size, software FROM pruning",
        "UPDATE pruning SET run = 'other' WHERE what = 'sweeps'",
        "UPDATE signature SET run = 'other'",
    ] {
        let (folder, raw) = record(true);
        raw.execute_batch(change).unwrap();
        let found = Store::open_read_only(folder.path()).unwrap().verify(&run()).unwrap();
        assert_eq!(found.standing, Standing::Broken, "{change}");
    }
}

#[test]
fn columns_of_a_verdict_are_compared_with_what_it_says() {
    for (change, told) in [
        ("UPDATE verdict_reading SET level_dbm = -90 WHERE ordinal = 2", "level_dbm of reading 2"),
        ("UPDATE verdict_reading SET outcome = 'invalid' WHERE ordinal = 1", "outcome of reading 1"),
        ("UPDATE verdict_reading SET channel = 'x'", "channel of reading"),
        ("UPDATE verdict SET rule = 'x'", "another rule"),
        ("UPDATE verdict SET software = 'x'", "another software"),
        ("UPDATE verdict_text SET ordinal = ordinal + 7", "files"),
        ("UPDATE verdict SET number = number + 7", "missing"),
        ("UPDATE verdict_reading SET run = 'x'", "not what was kept"),
    ] {
        let (folder, raw) = record(false);
        raw.execute_batch(change).unwrap();
        let broken = Store::open_read_only(folder.path()).unwrap().broken_verdicts(&run()).unwrap();
        assert!(broken.iter().any(|broken| broken.contains(told)), "{change}: {broken:?}");
    }
}
