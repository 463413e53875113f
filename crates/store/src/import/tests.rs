//! What goes out comes in the same, once; and no file from elsewhere does harm.

use spurline_record::{Event, EventKind, JudgedFrom, Outcome, Reading, Verdict, VerdictReading};

use super::*;
use crate::specimen::{at, events};
use crate::{Direction, Prunable, TranscriptEntry};

const RUN: &str = "20261125-103012-7c1e";
const OTHER: &str = "20261125-103013-7c1e";

/// The events of a run that went to its end.
fn ended(id: &str) -> Vec<Event> {
    let mut events = events(id);
    if let Some(Event { kind: EventKind::RunEnded { state, .. }, .. }) = events.last_mut() {
        *state = RunState::Finished;
    }
    events
}

fn run() -> RunId {
    RunId::from_record(RUN.to_owned())
}

fn exported() -> (tempfile::TempDir, std::path::PathBuf, Store) {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(&folder.path().join("from")).unwrap().into_recorder();
    recorder.record(&ended(RUN)[..8]).unwrap();
    let entry = |bytes: &[u8]| TranscriptEntry {
        at: at(3),
        link: "relay".into(),
        direction: Direction::To,
        step: "line".into(),
        bytes: bytes.to_owned(),
    };
    recorder.transcript(&[entry(b"first")]).unwrap();
    recorder.record(&ended(RUN)[8..]).unwrap();
    recorder.transcript(&[entry(b"second")]).unwrap();
    let mut other = recorder.into_store().into_recorder();
    other.record(&ended(OTHER)).unwrap();
    let store = other.into_store();
    let file = folder.path().join("a run?#%.sqlite");
    store.export(&run(), &file).unwrap();
    (folder, file, store)
}

#[test]
fn a_run_goes_out_and_comes_in_the_same_once() {
    let (folder, file, from) = exported();
    let names = || {
        std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect::<Vec<_>>()
    };
    assert_eq!(names().len(), 2, "{:?}", names());
    let into = Store::open(&folder.path().join("into")).unwrap();
    let taken = into.import(&file).unwrap();
    assert_eq!((&taken.run, taken.new), (&run(), true));
    assert_eq!(into.load(&run()).unwrap(), from.load(&run()).unwrap());
    assert_eq!(into.transcript(&run()).unwrap(), from.transcript(&run()).unwrap());
    assert_eq!(into.verify(&run()).unwrap(), from.verify(&run()).unwrap());
    assert_eq!(into.runs().unwrap().len(), 1);
    assert!(!into.import(&file).unwrap().new, "a second time nothing is done");
    assert!(!from.import(&file).unwrap().new, "nor where it comes from");
    assert!(matches!(from.export(&run(), &file), Err(StoreError::FileThere { .. })));
    assert_eq!(names().len(), 3, "nothing is left beside the file: {:?}", names());
}

#[test]
fn a_pruned_run_can_be_sent_as_well() {
    let (folder, _, from) = exported();
    from.prune(&run(), Prunable::Sweeps, at(90), "test 1").unwrap();
    let file = folder.path().join("pruned.sqlite");
    from.export(&run(), &file).unwrap();
    let into = Store::open(&folder.path().join("into")).unwrap();
    assert!(into.import(&file).unwrap().new);
    assert_eq!(into.load(&run()).unwrap(), from.load(&run()).unwrap());
}

/// What is done to a file on its way, and what is said.
fn after(change: &str) -> StoreError {
    let (folder, file, _) = exported();
    Connection::open(&file).unwrap().execute_batch(&format!("PRAGMA foreign_keys = OFF; {change}")).unwrap();
    let into = Store::open(&folder.path().join("into")).unwrap();
    let error = into.import(&file).unwrap_err();
    assert_eq!(into.runs().unwrap(), [], "{change}");
    error
}

#[test]
fn what_is_no_whole_run_of_a_record_is_refused() {
    let refused = |change: &str, as_expected: fn(&StoreError) -> bool| {
        let error = after(change);
        assert!(as_expected(&error), "{change}: {error}");
    };
    let strange: fn(&StoreError) -> bool = |error| matches!(error, StoreError::StrangeSchema { .. });
    refused("CREATE TRIGGER mine AFTER INSERT ON run BEGIN DELETE FROM run; END", strange);
    refused("CREATE VIEW mine AS SELECT 1", strange);
    refused("CREATE TABLE mine (x)", strange);
    refused("CREATE INDEX mine ON run (plan)", strange);
    refused("DROP VIEW unit; CREATE VIEW unit AS SELECT load_extension('x')", strange);
    refused("DROP TABLE proof", strange);
    refused("ALTER TABLE run ADD COLUMN mine TEXT", strange);
    refused("PRAGMA application_id = 7", |error| matches!(error, StoreError::NotARecord { .. }));
    refused("PRAGMA user_version = 99", |error| matches!(error, StoreError::NewerSchema { .. }));
    refused("PRAGMA user_version = 4", strange);
    let broken: fn(&StoreError) -> bool = |error| {
        matches!(error, StoreError::NotTaken { .. })
            && error.is_wrong_question()
            && error.to_string().contains("a run?#%.sqlite")
    };
    refused("UPDATE reading SET level_dbm = -90 WHERE ordinal = 2", broken);
    refused("UPDATE sweep SET n = 4000000000", broken);
    refused("UPDATE sweep SET codec = 2, data = x''", broken);
    refused("UPDATE transcript_batch SET size = 90000000000", broken);
    refused("UPDATE event SET number = 9223372036854775807 WHERE sequence > 3", broken);
    refused("UPDATE event SET number = -9223372036854775808 WHERE sequence > 3", broken);
    refused("UPDATE run SET links = 9223372036854775807", broken);
    refused("UPDATE run SET links = -9223372036854775808, readings = -9223372036854775808", broken);
    refused("INSERT INTO pruning VALUES (1, 'r', '2026', 'sweeps', 3, 1, 'x')", broken);
    refused(
        "INSERT INTO pruning SELECT 9223372036854775807, id, started, 'sweeps', 9223372036854775807, 1, 'x' FROM run",
        broken,
    );
    for points in ["0", "-1", "9223372036854775807", "-9223372036854775808", "4294967295"] {
        refused(&format!("UPDATE sweep SET n = {points}"), broken);
        refused(&format!("UPDATE acquisition SET points = {points}"), broken);
        refused(&format!("UPDATE acquisition SET sweeps = {points}"), broken);
        refused(&format!("UPDATE transcript_batch SET entries = {points}"), broken);
        refused(&format!("UPDATE transcript_batch SET size = {points}"), broken);
        refused(&format!("UPDATE reading SET ordinal = {points} WHERE ordinal = 1"), broken);
        refused(&format!("UPDATE event SET sequence = {points} WHERE sequence = 5"), broken);
        refused(&format!("UPDATE text SET ordinal = {points} WHERE ordinal = 1"), broken);
    }
    for column in ["header", "plan", "started", "software"] {
        refused(&format!("UPDATE run SET {column} = 'no JSON, no time'"), broken);
    }
    refused("UPDATE run SET simulated_seed = '99999999999999999999999'", broken);
    refused("UPDATE reading SET detail = '{'", broken);
    refused("UPDATE event SET detail = '[[[[[[[[' WHERE detail IS NOT NULL", broken);
    refused("UPDATE run SET chain = NULL", |error| matches!(error, StoreError::Unchained { .. }));
    refused("UPDATE run SET id = 'x'", |error| !matches!(error, StoreError::Write { .. }));
    refused("INSERT INTO run SELECT * FROM (SELECT 'second', plan, bench, unit_maker, unit_model, unit_serial, unit_firmware, rule,
             decision, started, ended, state, outcome, software, simulated_seed, header, readings, chain, links, head FROM run)",
        |error| matches!(error, StoreError::SeveralRuns { .. }));
    refused("DELETE FROM run", |error| matches!(error, StoreError::NoRuns { .. }));
}

#[test]
fn another_run_of_the_same_name_is_refused() {
    let (folder, file, _) = exported();
    let mut recorder = Store::open(&folder.path().join("into")).unwrap().into_recorder();
    recorder.record(&ended(RUN)[..5]).unwrap();
    let into = recorder.into_store();
    let before = into.verify(&run()).unwrap();
    assert!(matches!(into.import(&file), Err(StoreError::OtherRun { .. })));
    assert_eq!(into.verify(&run()).unwrap(), before);
}

#[test]
fn what_is_no_file_of_that_kind_is_refused() {
    let (folder, file, _) = exported();
    let into = Store::open(&folder.path().join("into")).unwrap();
    assert!(into.import(folder.path()).is_err());
    assert!(into.import(&folder.path().join("none")).is_err());
    let bytes = std::fs::read(&file).unwrap();
    let other = folder.path().join("other");
    for (at, length) in (0..bytes.len()).step_by(1777).map(|at| (at, bytes.len() - at / 3)) {
        let mut damaged = bytes.clone();
        damaged[at] ^= 0x55;
        damaged.truncate(length);
        std::fs::write(&other, &damaged).unwrap();
        // Where the damage is in room that nothing uses, the run is whole.
        if let Ok(taken) = into.import(&other) {
            assert_eq!(taken.run, run());
        }
    }
    std::fs::write(&other, &bytes).unwrap();
    std::fs::write(folder.path().join("other-wal"), "x").unwrap();
    assert!(matches!(into.import(&other), Err(StoreError::InUse { .. })));
}

/// What was made on a run since it was sent the first time comes with the second; what was made anew does not.
#[test]
fn what_was_made_on_a_run_since_is_taken() {
    let (folder, file, from) = exported();
    let into = Store::open(&folder.path().join("into")).unwrap();
    into.import(&file).unwrap();
    let send = |name: &str| {
        let file = folder.path().join(name);
        from.export(&run(), &file).unwrap();
        file
    };
    from.keep_verdict(judged(&from, Outcome::Undecided)).unwrap();
    from.keep_verdict(judged(&from, Outcome::Exceeds)).unwrap();
    let (key, _) = crate::SecretKey::make(&folder.path().join("key")).unwrap();
    from.sign(&run(), &key, at(80), "test 1").unwrap();
    let second = into.import(&send("second")).unwrap();
    assert_eq!((second.new, second.verdicts, second.signatures), (false, 2, 1));
    assert_eq!(into.verdict(&run(), 2).unwrap(), from.verdict(&run(), 2).unwrap());
    assert_eq!(into.verify(&run()).unwrap(), from.verify(&run()).unwrap());
    let again = into.import(&send("again")).unwrap();
    assert_eq!((again.verdicts, again.signatures, again.differs.len()), (0, 0, 0));
    // The levels are gone on one side: that is said, and stays.
    from.prune(&run(), Prunable::Sweeps, at(90), "test 1").unwrap();
    let pruned = into.import(&send("pruned")).unwrap();
    assert_eq!(pruned.differs, [Pruned { what: Prunable::Sweeps, here: false }]);
    assert!(!into.load(&run()).unwrap().readings[1].acquisitions[0].sweeps.is_empty());
    // Another verdict of the same number: both stand, once each.
    let third = Store::open(&folder.path().join("third")).unwrap();
    third.import(&file).unwrap();
    third.keep_verdict(judged(&third, Outcome::Invalid)).unwrap();
    let both = third.import(&folder.path().join("second")).unwrap();
    assert_eq!((both.verdicts, both.signatures, both.renumbered), (2, 1, vec![(1, 2), (2, 3)]));
    let outcomes: Vec<_> = third.verdicts(&run()).unwrap().iter().map(|one| one.outcome).collect();
    assert_eq!(outcomes, [Outcome::Invalid, Outcome::Undecided, Outcome::Exceeds].map(Some));
    assert!(third.broken_verdicts(&run()).unwrap().is_empty());
    assert_eq!(third.import(&folder.path().join("second")).unwrap().verdicts, 0);
    // Another signature by the same key is refused.
    third.connection.turn().execute("UPDATE signature SET software = 'test 2'", []).unwrap();
    let error = third.import(&folder.path().join("second")).unwrap_err();
    assert!(
        matches!(&error, StoreError::OtherBeside { what, .. } if what == "signature by a key"),
        "{error}"
    );
}

fn judged(store: &Store, outcome: Outcome) -> Verdict {
    let stored = store.load_readings(&run()).unwrap();
    let readings = stored.readings.into_iter().map(|reading| VerdictReading {
        from: JudgedFrom::Raw,
        reading: Reading { outcome, acquisitions: Vec::new(), ..reading },
    });
    Verdict {
        run: run(),
        number: 0,
        at: at(70),
        replaced: Vec::new(),
        outcome: Some(outcome),
        head: None,
        header: stored.header,
        readings: readings.collect(),
    }
}

/// Few bytes that stand for many points are counted before any of them is decoded for good.
#[test]
fn a_file_that_claims_much_memory_is_refused() {
    let error = after("UPDATE sweep SET n = 16777216, codec = 0, data = zeroblob(0)");
    assert!(matches!(error, StoreError::NotTaken { .. }), "{error}");
}
