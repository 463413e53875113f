//! What the entries of a log come to.

use spurline_record::{Drift, VisitOutcome};
use spurline_units::{Db, Dbm};

use super::*;
use crate::specimen::result;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_800_000_000 + second).unwrap()
}

fn entry(day: &str, second: i64, event: DayEvent) -> DayEntry {
    DayEntry { number: 1, day: day.to_owned(), at: at(second), event }
}

fn came(visit: u32, label: Label) -> DayEntry {
    let reference = label.tag.is_some();
    entry("d", i64::from(visit), DayEvent::Came { visit, label, reference })
}

fn call(call: &str, publish: Option<bool>) -> Label {
    Label { call: Some(call.to_owned()), publish, ..Label::default() }
}

/// Whoever says at a later visit that they are not to be named is not named in earlier ones either.
#[test]
fn leave_that_is_withdrawn_is_withdrawn_everywhere() {
    let public = |ledger: &Ledger| -> Vec<Option<String>> {
        ledger.visits().iter().map(|visit| visit.label.in_public().call).collect()
    };
    let mut entries = vec![came(1, call("X1ABC", Some(true))), came(2, call("Y2DEF", Some(true)))];
    assert_eq!(public(&Ledger::of(&entries)), [Some("X1ABC".to_owned()), Some("Y2DEF".to_owned())]);
    entries.push(came(3, call("x1abc/P", Some(false))));
    assert_eq!(public(&Ledger::of(&entries)), [None, Some("Y2DEF".to_owned()), None]);
    let not = Label { publish: Some(false), ..Label::default() };
    entries.push(entry("d", 4, DayEvent::Corrected { visit: 2, label: not }));
    assert_eq!(public(&Ledger::of(&entries)), [None, None, None]);
    // On a later day as well; what was said on an earlier one is past.
    let on =
        |day: &str, second, label| entry(day, second, DayEvent::Came { visit: 1, label, reference: false });
    let days = [on("a", 0, call("X1ABC", Some(false))), on("b", 1, call("X1ABC", Some(true)))];
    assert_eq!(public(&Ledger::of_day(&days, "b")), [Some("X1ABC".to_owned())]);
    let days = [days, [on("c", 2, call("Y2DEF", None)), on("d", 3, call("X1ABC", Some(false)))]].concat();
    assert_eq!(public(&Ledger::of_day(&days, "b")), [None]);
}

/// A carrier that stayed in the evening is still there in the morning, until somebody says that it is not; on another bench it
/// never was.
#[test]
fn a_carrier_stays_over_night() {
    let opened = |day: &str, bench: &str, second| {
        let event = DayEvent::Opened {
            place: String::new(),
            bench: bench.to_owned(),
            rule: "r".to_owned(),
            software: "s".to_owned(),
        };
        entry(day, second, event)
    };
    let stay = DayEvent::Stays { visit: 1, why: "30 dBm".to_owned() };
    let mut entries =
        vec![opened("evening", "here", 0), opened("beside", "there", 1), entry("evening", 2, stay)];
    entries.push(opened("morning", "here", 40_000));
    let of = |entries: &[DayEntry], bench: &str| {
        Ledger::default().with_stays(stays(of_bench(entries, bench))).stays().map(str::to_owned)
    };
    assert_eq!(of(&entries, "here").as_deref(), Some("30 dBm"));
    assert_eq!(of(&entries, "there"), None);
    entries.push(entry("morning", 40_001, DayEvent::Gone));
    assert_eq!(of(&entries, "here"), None);
    assert_eq!(by_day(&of_bench(&entries, "here")).len(), 2);
    assert_eq!(stays(of_bench(&entries, "here"))[0].to, Some(at(40_001)));
}

/// The tag of the reference radio, scanned by mistake, can be taken off, and put on again.
#[test]
fn a_tag_that_was_scanned_by_mistake_is_taken_off() {
    let tag = |tag: &str| Label { tag: Some(tag.to_owned()), ..Label::default() };
    let mut ledger = Ledger::default();
    ledger.take(&came(1, tag("REF")));
    ledger.ended(1, at(10), result(VisitOutcome::Complies));
    assert!(ledger.reference().is_some());
    let mut correct = |label: Label| {
        ledger.take(&entry("d", 20, DayEvent::Corrected { visit: 1, label }));
        (ledger.reference().is_some(), ledger.visit(1).unwrap().label.to_string())
    };
    // Leave to publish says nothing of whose radio it was.
    assert_eq!(correct(Label { publish: Some(true), ..Label::default() }), (true, "REF".to_owned()));
    assert_eq!(correct(call("X1ABC", None)), (false, "X1ABC".to_owned()));
    assert_eq!(correct(tag("#7")), (false, "X1ABC, #7".to_owned()));
    assert!(correct(tag("ref")).0);
}

/// A look that has drifted does not say that the bench is as it was, nor what it is held against later.
#[test]
fn a_look_that_has_drifted_is_not_a_good_one() {
    let tag = || Label { tag: Some("REF".to_owned()), ..Label::default() };
    let drift = |is: f64| Drift { order: 1, was: Dbm::new(36.0), is: Dbm::new(is), allowed: Db::new(0.5) };
    let mut ledger = Ledger::default();
    for (visit, level) in [(1, 34.0), (2, 36.1), (3, 35.0)] {
        ledger.take(&came(visit, tag()));
        ledger.ended(visit, at(100 * i64::from(visit)), result(VisitOutcome::Complies));
        ledger.compared(visit, vec![drift(level)]);
        assert_eq!(ledger.drifted().is_some(), visit != 2, "{visit}");
    }
    assert_eq!(ledger.reference().map(|visit| visit.number), Some(2));
    assert_eq!(ledger.reference_at(), Some(at(200)));
}

/// A visit that was looked up later ended when its run did.
#[test]
fn what_was_looked_up_later_ended_when_it_ended() {
    let mut ledger = Ledger::default();
    ledger.take(&came(1, call("X1ABC", None)));
    ledger.ended(1, at(90_000), VisitResult { ended: Some(at(30)), ..result(VisitOutcome::Stopped) });
    assert_eq!(ledger.visit(1).unwrap().ended.as_ref().map(|(at, _)| *at), Some(at(30)));
}
