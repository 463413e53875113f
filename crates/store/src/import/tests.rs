//! What goes out comes in the same, once; and no file from elsewhere does harm.

use spurline_record::{Event, EventKind};

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
    let broken: fn(&StoreError) -> bool = |error| matches!(error, StoreError::NotWhole { .. });
    refused("UPDATE reading SET level_dbm = -90 WHERE ordinal = 2", broken);
    refused("UPDATE sweep SET n = 4000000000", broken);
    refused("UPDATE sweep SET codec = 2, data = x''", broken);
    refused("UPDATE transcript_batch SET size = 90000000000", broken);
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
