//! Verdicts beside a run, and the run untouched by them.

use spurline_record::{Event, EventKind, JudgedFrom, TextRole};

use super::*;
use crate::specimen::{at, events};

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

/// A store with the specimen run, and a verdict on it.
fn with_run() -> (tempfile::TempDir, Store, Verdict) {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    let events: Vec<Event> = events("r");
    for event in &events {
        recorder.record(std::slice::from_ref(event)).unwrap();
    }
    drop(recorder);
    let store = Store::open(folder.path()).unwrap();
    let stored = store.load(&run()).unwrap();
    let mut header = stored.header.clone();
    header.rule = "another".to_owned();
    header.texts.push(SourceText {
        role: TextRole::Rule,
        name: "new".to_owned(),
        text: "rule: new".to_owned(),
    });
    let readings = stored.readings.iter().map(|reading| VerdictReading {
        from: JudgedFrom::Raw,
        reading: Reading { outcome: Outcome::Undecided, ..without_looks(reading) },
    });
    let verdict = Verdict {
        run: run(),
        number: 0,
        at: at(90),
        replaced: vec![Replaced {
            what: "rule".to_owned(),
            from: "one".to_owned(),
            to: "another".to_owned(),
        }],
        outcome: Some(Outcome::Undecided),
        head: None,
        header,
        readings: readings.collect(),
    };
    assert!(events.iter().any(|event| matches!(event.kind, EventKind::ReadingFinished(_))));
    (folder, store, verdict)
}

#[test]
fn verdicts_are_numbered_and_come_back_as_they_were() {
    let (folder, store, verdict) = with_run();
    let first = store.keep_verdict(verdict.clone()).unwrap();
    assert_eq!((first.number, store.keep_verdict(verdict.clone()).unwrap().number), (1, 2));
    drop(store);
    let store = Store::open_read_only(folder.path()).unwrap();
    assert_eq!(store.verdict(&run(), 1).unwrap(), Verdict { number: 1, head: first.head, ..verdict });
    let all = store.verdicts(&run()).unwrap();
    assert_eq!(all.iter().map(|one| one.number).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(all[0].rule, "another");
    let error = store.verdict(&run(), 3).unwrap_err();
    assert!(
        error.is_wrong_question() && matches!(error, StoreError::UnknownVerdict { number: 3, .. }),
        "{error}"
    );
}

#[test]
fn a_run_stays_as_it_was() {
    let (_folder, store, verdict) = with_run();
    let before = store.load(&run()).unwrap();
    store.keep_verdict(verdict).unwrap();
    assert_eq!(store.load(&run()).unwrap(), before);
}

#[test]
fn only_texts_that_the_run_has_not_are_kept_again() {
    let (_folder, store, verdict) = with_run();
    store.keep_verdict(verdict).unwrap();
    let own: i64 = store
        .connection
        .turn()
        .query_row("SELECT count(*) FROM verdict_text WHERE text IS NOT NULL", [], |row| row.get(0))
        .unwrap();
    assert_eq!(own, 1);
}

#[test]
fn a_verdict_is_neither_changed_nor_taken_out() {
    let (_folder, store, verdict) = with_run();
    store.keep_verdict(verdict).unwrap();
    for statement in [
        "UPDATE verdict SET outcome = 'complies'",
        "UPDATE verdict_reading SET outcome = 'complies'",
        "UPDATE verdict_text SET name = 'x'",
        "DELETE FROM verdict_reading",
        "DELETE FROM verdict_text",
        "DELETE FROM verdict",
    ] {
        let error = store.connection.turn().execute(statement, []).unwrap_err();
        assert!(error.to_string().contains("a verdict is never"), "{statement}: {error}");
    }
}

#[test]
fn one_that_was_changed_all_the_same_is_found_out() {
    let (_folder, store, verdict) = with_run();
    store.keep_verdict(verdict).unwrap();
    store
        .connection
        .turn()
        .execute_batch("DROP TRIGGER verdict_stays; UPDATE verdict SET outcome = 'complies'")
        .unwrap();
    let error = store.verdict(&run(), 1).unwrap_err();
    let StoreError::Read { source, .. } = &error else { panic!("{error:?}") };
    assert!(source.to_string().contains("verdict 1 is not what was kept"), "{source}");
}

/// SHA-256 of eight bytes of length and the words before it, by `printf '\0\0\0\0\0\0\0\022spurline verdict 1' | sha256sum`
/// (GNU coreutils 9).
#[test]
fn the_hash_is_that_of_other_tools() {
    let hash = hash::Hash::new().finish();
    let hex: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(hex, "35fe988a4e32caef61d159610fe68dff501cd7e56f367128f9830f4f2e061e2b");
}
