//! The day as it goes on: what is typed and what becomes of it.

use spurline_units::{Db, Seconds};

use super::*;
use crate::specimen::result;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_800_000_000 + second).unwrap()
}

/// A machine whose entries are kept at once.
struct Held(Machine, u64);

impl Held {
    fn new(reference: Option<ReferenceRadio>) -> Self {
        Self(Machine::new(Ledger::default(), reference), 0)
    }

    fn keep(&mut self, effects: Vec<Effect>, second: i64) -> Vec<Effect> {
        for effect in &effects {
            if let Effect::Keep(event) = effect {
                self.1 += 1;
                let entry =
                    DayEntry { number: self.1, day: "d".to_owned(), at: at(second), event: event.clone() };
                self.0.entered(&entry);
            }
        }
        effects.into_iter().filter(|effect| !matches!(effect, Effect::Keep(_))).collect()
    }

    fn line(&mut self, text: &str, second: i64) -> Vec<Effect> {
        let effects = self.0.line(text, at(second));
        self.keep(effects, second)
    }

    fn ended(&mut self, visit: u32, outcome: VisitOutcome, second: i64) -> Vec<Effect> {
        let effects = self.0.ended(visit, result(outcome), at(second));
        self.keep(effects, second)
    }
}

fn reference() -> ReferenceRadio {
    ReferenceRadio {
        tag: "REF".to_owned(),
        every: Seconds::new(3600.0),
        carrier: None,
        tolerance: Db::new(0.5),
    }
}

#[test]
fn a_visitor_is_kept_before_anybody_is_asked_to_key() {
    let mut machine = Machine::new(Ledger::default(), None);
    let effects = machine.line("X1ABC", at(0));
    assert!(matches!(
        effects.as_slice(),
        [Effect::Keep(DayEvent::Came { visit: 1, .. }), Effect::Measure { visit: 1, .. }]
    ));
}

#[test]
fn a_verdict_and_a_slip_follow_a_measurement() {
    let mut day = Held::new(None);
    assert!(matches!(day.line("X1ABC", 0).as_slice(), [Effect::Measure { visit: 1, .. }]));
    assert_eq!(day.ended(1, VisitOutcome::Complies, 20), [Effect::Verdict(1), Effect::Slip(1)]);
    assert_eq!(day.line("r", 21), [Effect::Slip(1)]);
    assert_eq!(day.line("", 22), [], "the prompt again, and nothing else");
    assert!(matches!(day.line("r 7", 23).as_slice(), [Effect::Say(told)] if told.contains("1 to 1")));
}

/// Whose label was typed while another radio was at the connector is connected before anybody is told to key.
#[test]
fn a_label_that_waited_is_connected_first() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    for waited in ["Y2DEF", "", "Z3GHI", "a 1"] {
        assert_eq!(day.0.line_that_waited(waited, at(20)), [], "{waited}");
    }
    assert!(matches!(day.0.line_that_waited("r", at(20)).as_slice(), [Effect::Slip(1)]));
    let asked = day.0.prompt(at(21));
    assert!(asked.contains("`Y2DEF` waits; 2 more after it") && asked.contains("then Enter"), "{asked}");
    let effects = day.line("", 22);
    assert!(
        matches!(effects.as_slice(), [Effect::Measure { visit: 2, label }] if label.call.as_deref() == Some("Y2DEF"))
    );
    day.ended(2, VisitOutcome::Complies, 40);
    assert!(matches!(day.line("n", 41).as_slice(), [Effect::Say(told)] if told.contains("`Z3GHI`")));
    // Another one goes first, and the one that waits still does.
    assert!(matches!(day.line("W1AAA", 42).as_slice(), [Effect::Measure { visit: 3, .. }]));
    day.ended(3, VisitOutcome::Complies, 60);
    assert!(matches!(day.line("", 61).as_slice(), [Effect::Measure { visit: 4, .. }]));
    day.ended(4, VisitOutcome::Complies, 80);
    assert_eq!(day.line("", 81), [], "nobody waits any more");
}

#[test]
fn nobody_is_told_to_key_while_a_carrier_stays() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.keep(vec![Effect::Keep(DayEvent::Stays { visit: 1, why: "30 dBm".to_owned() })], 20);
    day.ended(1, VisitOutcome::Failed, 20);
    // The program ends and begins anew: it still is.
    day.0 = Machine::new(day.0.ledger().clone(), None);
    day.0.line_that_waited("Y2DEF", at(20));
    for refused in ["Z3GHI", "a", "", "r", "d"] {
        let effects = day.line(refused, 21);
        assert!(!effects.iter().any(|effect| matches!(effect, Effect::Measure { .. })), "{refused}");
        assert!(
            day.0.is_stuck() && day.0.prompt(at(21)).starts_with("A CARRIER IS STILL THERE"),
            "{refused}"
        );
    }
    assert_eq!(day.0.line_that_waited("off", at(22)), []);
    assert!(day.0.is_stuck(), "what was typed before it was asked confirms nothing");
    day.line("off", 23);
    assert!(!day.0.is_stuck());
    assert!(!Machine::new(day.0.ledger().clone(), None).is_stuck());
    assert!(matches!(day.line("", 24).as_slice(), [Effect::Measure { visit: 2, .. }]));
}

#[test]
fn one_who_came_before_is_asked_about() {
    let mut day = Held::new(None);
    day.line("X1ABC 0815", 0);
    day.ended(1, VisitOutcome::Exceeds, 20);
    assert_eq!(day.line("0815", 30), []);
    assert!(day.0.prompt(at(30)).contains("visit 1 was `X1ABC, 0815`: exceeds"), "{}", day.0.prompt(at(30)));
    assert_eq!(day.line("r", 31), [Effect::Slip(1)]);
    // Asked again and measured again, with what was known.
    day.line("0815 +", 32);
    let effects = day.line("a", 33);
    let [Effect::Measure { visit: 2, label }] = effects.as_slice() else { panic!("{effects:?}") };
    assert_eq!((label.call.as_deref(), label.publish), (Some("X1ABC"), Some(true)));
    day.ended(2, VisitOutcome::Complies, 50);
    // Another label instead of an answer.
    day.line("0815", 51);
    assert!(matches!(day.line("Y2DEF", 52).as_slice(), [Effect::Measure { visit: 3, .. }]));
}

/// With blanks, hyphens or small letters: it is the same radio, and keeps the name that it had.
#[test]
fn one_who_came_before_is_noticed_however_it_is_spelt() {
    let mut day = Held::new(Some(reference()));
    day.line("X1ABC SN0001", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    for spelt in ["x1abc", "X1 ABC", "x1-abc", "sn-0001", "SN 0001", "sn0001"] {
        assert_eq!(day.line(spelt, 30), [], "{spelt}");
        assert!(day.0.prompt(at(30)).contains("visit 1 was `X1ABC, SN0001`"), "{spelt}");
    }
    day.line("x1 abc", 31);
    let effects = day.line("a", 32);
    let [Effect::Measure { visit: 2, label }] = effects.as_slice() else { panic!("{effects:?}") };
    assert_eq!(label.to_string(), "X1ABC, SN0001");
    day.ended(2, VisitOutcome::Complies, 50);
    assert!(matches!(day.line("X1 ABD", 51).as_slice(), [Effect::Say(_)]), "nobody came who is called so");
    assert!(matches!(day.line("r-e-f", 52).as_slice(), [Effect::Measure { visit: 3, .. }]));
    day.ended(3, VisitOutcome::Complies, 60);
    assert!(day.0.ledger().visit(3).unwrap().reference);
}

#[test]
fn a_correction_that_says_nothing_is_told() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    let told = day.line("c 1", 21);
    assert!(
        matches!(told.as_slice(), [Effect::Say(told)] if told.contains("`c 1 X1ABC`") && told.contains("`c serial:1`"))
    );
    assert!(day.0.ledger().visit(1).unwrap().first.is_none());
    // No visit has this number: it is the serial number of the last one.
    day.line("c 4711", 22);
    assert_eq!(day.0.ledger().visit(1).unwrap().label.serial.as_deref(), Some("4711"));
}

#[test]
fn a_correction_is_added_and_nothing_is_written_over() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    let effects = day.0.line("c X1ABD", at(21));
    assert!(matches!(&effects[0], Effect::Keep(DayEvent::Corrected { visit: 1, .. })));
    day.keep(effects, 21);
    let visit = day.0.ledger().visit(1).unwrap();
    assert_eq!(visit.label.call.as_deref(), Some("X1ABD"));
    assert_eq!(visit.first.as_ref().unwrap().call.as_deref(), Some("X1ABC"));
    assert!(
        matches!(day.line("X1ABC", 22).as_slice(), [Effect::Measure { visit: 2, .. }]),
        "it is free again"
    );
}

#[test]
fn the_reference_radio_is_asked_for_every_hour() {
    let mut day = Held::new(Some(reference()));
    assert!(day.0.prompt(at(0)).starts_with("reference radio due"));
    // A visitor may go first; the slip says so.
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 10);
    assert!(day.0.ledger().visit(1).unwrap().result().unwrap().reference_overdue);
    day.line("ref", 20);
    day.ended(2, VisitOutcome::Complies, 40);
    assert!(day.0.ledger().visit(2).unwrap().reference);
    assert_eq!(day.0.reference_due_in(at(40)), Some(Duration::from_secs(3600)));
    assert!(!day.0.is_reference_due(at(3639)) && day.0.is_reference_due(at(3640)));
    day.line("Y1ABC", 50);
    day.ended(3, VisitOutcome::Complies, 60);
    assert!(!day.0.ledger().visit(3).unwrap().result().unwrap().reference_overdue);
    // One that could not be measured does not count.
    day.line("REF", 4000);
    day.ended(4, VisitOutcome::NotKeyed, 4030);
    assert!(day.0.is_reference_due(at(4031)));
}

#[test]
fn what_broke_off_is_looked_up_at_the_next_start() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    let run = RunId::from_record("r".to_owned());
    day.keep(vec![Effect::Keep(DayEvent::Measuring { visit: 1, run: run.clone() })], 1);
    let machine = Machine::new(day.0.ledger().clone(), None);
    assert_eq!(machine.begin(), [Effect::Recover { visit: 1, run: Some(run) }]);
    day.0 = machine;
    assert_eq!(day.ended(1, VisitOutcome::Stopped, 60), [Effect::Verdict(1)]);
    assert!(day.0.begin().is_empty());
}
