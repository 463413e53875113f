//! What is taken out is gone, what stays is whole, and the record says so.

use spurline_record::{Reading, RunId};

use super::*;
use crate::specimen::{at, events, reading};
use crate::verify::Standing;
use crate::{Direction, TranscriptEntry};

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

fn recorded() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    recorder.record(&events("r")).unwrap();
    let step = "line".into();
    let bytes = vec![b'7'; 40];
    recorder
        .transcript(&[TranscriptEntry {
            at: at(3),
            link: "relay".into(),
            direction: Direction::To,
            step,
            bytes,
        }])
        .unwrap();
    (folder, recorder.into_store())
}

#[test]
fn a_pruned_run_keeps_everything_but_its_levels_and_verifies() {
    let (_folder, store) = recorded();
    let before = store.verify(&run()).unwrap();
    let room = store.prunable(&run(), Prunable::Sweeps).unwrap();
    assert_eq!(store.prune(&run(), Prunable::Sweeps, at(90), "test 1").unwrap(), room);
    assert_eq!(room.items, 12);
    let after = store.verify(&run()).unwrap();
    assert_eq!((after.standing, after.head), (Standing::Whole, before.head), "{:?}", after.breaks);
    let stored = store.load(&run()).unwrap();
    let mut bare = reading(2);
    bare.acquisitions.iter_mut().for_each(|look| look.sweeps.clear());
    assert_eq!(stored.readings[1], bare);
    assert_eq!(stored.readings, store.load_readings(&run()).unwrap().readings);
    let [pruning] = stored.prunings.as_slice() else { panic!("{:?}", stored.prunings) };
    assert_eq!((pruning.what, pruning.items, pruning.software.as_str()), (Prunable::Sweeps, 12, "test 1"));
    // Once more: there is nothing to take out, and nothing is written down.
    assert_eq!(store.prune(&run(), Prunable::Sweeps, at(91), "test 1").unwrap().items, 0);
    assert_eq!(store.load(&run()).unwrap().prunings.len(), 1);
    assert!(store.give_room_back().unwrap());
    assert_eq!(store.verify(&run()).unwrap().standing, Standing::Whole);
    // What is changed in a pruned run shows still.
    store.connection.turn().execute("UPDATE sweep SET hash = zeroblob(32) WHERE ordinal = 1", []).unwrap();
    assert_eq!(store.verify(&run()).unwrap().standing, Standing::Broken);
}

#[test]
fn a_transcript_is_pruned_by_itself() {
    let (_folder, store) = recorded();
    assert_eq!(store.prune(&run(), Prunable::Transcript, at(90), "test 1").unwrap().items, 1);
    let kept = store.transcript(&run()).unwrap();
    assert_eq!((kept.entries.len(), kept.pruned), (0, true));
    assert_eq!(store.verify(&run()).unwrap().standing, Standing::Whole);
    let readings: Vec<Reading> = store.load(&run()).unwrap().readings;
    assert_eq!(readings[1], reading(2));
}

#[test]
fn what_goes_on_or_is_broken_is_left_alone() {
    let (_folder, store) = recorded();
    assert_eq!(store.ended_before(at(14)).unwrap(), []);
    assert_eq!(store.ended_before(at(15)).unwrap(), [run()]);
    store.connection.turn().execute("UPDATE reading SET level_dbm = 1 WHERE ordinal = 2", []).unwrap();
    let refused = store.prune(&run(), Prunable::Sweeps, at(90), "test 1");
    assert!(matches!(refused, Err(StoreError::NotWhole { .. })));
    let mut recorder = store.into_recorder();
    recorder.record(&events("s")[..8]).unwrap();
    let store = recorder.into_store();
    let going_on = RunId::from_record("s".to_owned());
    let refused = store.prune(&going_on, Prunable::Sweeps, at(90), "test 1");
    assert!(matches!(refused, Err(StoreError::StillRunning { .. })));
    assert_eq!(store.ended_before(at(900)).unwrap(), [run()]);
}
