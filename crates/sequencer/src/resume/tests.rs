//! What is left of a run that broke off, by its events.

use jiff::Timestamp;
use proptest::prelude::*;
use spurline_record::{Figure, Identity, Unit};
use spurline_units::{Hertz, Seconds};

use super::*;
use crate::specimen;

fn reading(ordinal: u32) -> Reading {
    let figure = Figure { value: 36.7, unit: Unit::Dbm, level: Some(Dbm::new(36.7)), bound: false };
    Reading { figure: Some(figure), ..specimen::reading(ordinal, Quantity::CarrierPower) }
}

fn finished(ordinal: u32) -> EventKind {
    EventKind::ReadingFinished(Box::new(reading(ordinal)))
}

fn resumed(set_aside: Vec<u32>) -> EventKind {
    EventKind::Resumed(Box::new(Resumption {
        software: "test".to_owned(),
        stood: RunState::Running,
        set_aside,
        key_was_down: false,
        notes: Vec::new(),
    }))
}

fn kept(kinds: Vec<EventKind>, counting: &[u32]) -> Kept {
    let events = (1..).zip(kinds).map(|(sequence, kind)| Event { sequence, at: Timestamp::UNIX_EPOCH, kind });
    let readings: Vec<Reading> = counting.iter().map(|ordinal| reading(*ordinal)).collect();
    Kept::of(&events.collect::<Vec<_>>(), &readings, RunState::Running, "test")
}

fn ordinals(kept: &Kept) -> Vec<u32> {
    kept.readings.iter().map(|reading| reading.ordinal).collect()
}

#[test]
fn what_was_half_done_is_set_aside() {
    let kinds = vec![finished(1), finished(2), EventKind::PartFinished(Part::Standby), finished(3)];
    let kept = kept(kinds, &[1, 2, 3]);
    assert_eq!((ordinals(&kept), kept.parts), (vec![1, 2], vec![Part::Standby]));
    assert_eq!((kept.resumption.set_aside, kept.numbered, kept.last), (vec![3], 3, 4));
}

/// What was set aside once does not come back, and its number is not given again.
#[test]
fn a_run_that_broke_off_twice_keeps_what_both_did() {
    let kinds = vec![
        finished(1),
        EventKind::PartFinished(Part::SupplySeries),
        finished(2),
        resumed(vec![2]),
        finished(3),
        EventKind::PartFinished(Part::Standby),
        EventKind::KeyDown { lease: Seconds::new(20.0) },
    ];
    let kept = kept(kinds, &[1, 3]);
    assert_eq!((ordinals(&kept), kept.numbered), (vec![1, 3], 3));
    assert_eq!(kept.parts, [Part::SupplySeries, Part::Standby]);
    assert_eq!((kept.resumption.set_aside, kept.resumption.key_was_down), (Vec::new(), true));
}

#[test]
fn another_instrument_is_named() {
    let used = |role, serial: &str| InstrumentUsed {
        role,
        address: "TCPIP::192.0.2.20::5025::SOCKET".to_owned(),
        profile: "generic".to_owned(),
        identity: Identity { serial: serial.to_owned(), model: "Analyser".to_owned(), ..Identity::default() },
    };
    let was = [used(Role::Analyser, "A-1"), used(Role::Switch, "S-1"), used(Role::Switch, "S-2")];
    let kept = kept(was.clone().map(EventKind::InstrumentFound).into(), &[]);
    assert!(kept.same_bench(&was).is_ok());
    let now = [used(Role::Switch, "S-1"), used(Role::Switch, "S-3"), used(Role::Analyser, "A-1")];
    let fault = kept.same_bench(&now).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "the switch is another one than when the run began: expected `Analyser S-2`, found `Analyser S-3`"
    );
}

proptest! {
    /// Wherever a run breaks off: every reading is kept or set aside, never both, and kept only with its piece.
    #[test]
    fn nothing_is_lost_and_nothing_counts_twice(pieces in prop::collection::vec(0u32..4, 1..6), cut in 0usize..40) {
        let (mut kinds, mut ordinal) = (Vec::new(), 0);
        for (piece, count) in (0u32..).zip(&pieces) {
            for _ in 0..*count {
                ordinal += 1;
                kinds.push(finished(ordinal));
            }
            kinds.push(EventKind::PartFinished(Part::Silence { frequency: Hertz::new(f64::from(piece)) }));
        }
        kinds.truncate(cut);
        let counting: Vec<u32> = kinds.iter().filter_map(|kind| match kind {
            EventKind::ReadingFinished(reading) => Some(reading.ordinal),
            _ => None,
        }).collect();
        let whole = kinds.iter().filter(|kind| matches!(kind, EventKind::PartFinished(_))).count();
        let kept = kept(kinds, &counting);
        prop_assert_eq!(kept.parts.len(), whole);
        let due: u32 = pieces[..whole].iter().sum();
        prop_assert_eq!(ordinals(&kept), (1..=due).collect::<Vec<_>>());
        let mut all = ordinals(&kept);
        all.extend(&kept.resumption.set_aside);
        prop_assert_eq!(all, counting);
    }
}
