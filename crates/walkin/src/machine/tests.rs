//! The day as it goes on: what is typed and what becomes of it.

use spurline_record::{DayLine, Outcome};
use spurline_units::{Db, Dbm, Hertz, Seconds};

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

/// Of a radio that waits nobody knows yet that it is connected: whatever is a label once it is its turn, waits.
#[test]
fn every_label_that_was_typed_early_waits() {
    let gold = ReferenceRadio { tag: "GOLD".to_owned(), ..reference() };
    let mut day = Held::new(Some(gold));
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    for early in ["GOLD W-0001", "g-o-l-d", "x1 abc"] {
        assert_eq!(day.0.line_that_waited(early, at(20)), [], "{early}");
    }
    assert!(day.0.prompt(at(21)).contains("`GOLD W-0001` waits; 2 more after it"));
    let effects = day.line("", 22);
    assert!(
        matches!(effects.as_slice(), [Effect::Measure { visit: 2, label }] if label.tag.as_deref() == Some("GOLD"))
    );
}

/// Neither again nor its slip: the question is answered, and whoever waits goes on waiting.
#[test]
fn neither_is_an_answer() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    day.0.line_that_waited("Y2DEF", at(20));
    assert_eq!(day.line("X1ABC", 21), []);
    assert!(day.0.prompt(at(21)).contains("n = neither"));
    assert!(
        matches!(day.line("n", 22).as_slice(), [Effect::Say(told)] if told.contains("nobody is measured again"))
    );
    assert!(day.0.prompt(at(23)).contains("`Y2DEF` waits"), "{}", day.0.prompt(at(23)));
}

#[test]
fn a_visit_that_was_stopped_has_no_slip() {
    let mut day = Held::new(None);
    day.line("X1ABC", 0);
    day.ended(1, VisitOutcome::Stopped, 20);
    assert!(
        matches!(day.line("r", 21).as_slice(), [Effect::Say(told)] if told.contains("measure it again: `a 1`"))
    );
}

#[test]
fn one_who_came_before_is_noticed_with_a_suffix() {
    let mut day = Held::new(None);
    day.line("G4XYZ", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    day.line("#12", 21);
    day.ended(2, VisitOutcome::Complies, 40);
    for (typed, asked) in [("G4XYZ/P", "visit 1 was"), ("tag:12", "visit 2 was")] {
        assert_eq!(day.line(typed, 41), [], "{typed}");
        assert!(day.0.prompt(at(41)).starts_with(asked), "{typed}: {}", day.0.prompt(at(41)));
    }
    assert!(
        matches!(day.line("12", 42).as_slice(), [Effect::Measure { visit: 3, .. }]),
        "a serial number is no tag"
    );
}

/// Whoever is measured as the next one under a former label has not agreed to what that one had.
#[test]
fn leave_to_publish_does_not_pass_on() {
    let mut day = Held::new(None);
    day.line("X1ABC 0815 +", 0);
    day.ended(1, VisitOutcome::Complies, 20);
    day.line("Y2DEF 0815", 21);
    let effects = day.line("a", 22);
    let [Effect::Measure { visit: 2, label }] = effects.as_slice() else { panic!("{effects:?}") };
    assert_eq!((label.call.as_deref(), label.publish), (Some("Y2DEF"), None));
    day.ended(2, VisitOutcome::Complies, 40);
    let told = day.line("c 1 Z3GHI", 41);
    assert!(matches!(told.as_slice(), [Effect::Say(told)] if told.contains("`c 1 +`")), "{told:?}");
    assert!(day.0.ledger().visit(1).unwrap().label.in_public().is_empty());
}

/// What a look at the reference radio came to, with the level of its carrier.
fn look(outcome: VisitOutcome, level: f64) -> VisitResult {
    let line = DayLine {
        order: 1,
        frequency: Hertz::from_mhz(145.0),
        level: Some(Dbm::new(level)),
        bound: false,
        limit: None,
        margin: None,
        uncertainty: Some(Db::new(1.0)),
        outcome: Outcome::Complies,
    };
    VisitResult { lines: vec![line], why: Some("why".to_owned()), ..result(outcome) }
}

impl Held {
    fn looks(&mut self, outcome: VisitOutcome, level: f64, second: i64) -> Vec<Effect> {
        let visit = self.0.ledger().next();
        self.line("REF", second);
        let effects = self.0.ended(visit, look(outcome, level), at(second + 10));
        self.keep(effects, second + 10)
    }

    fn comes(&mut self, label: &str, second: i64) -> VisitResult {
        let visit = self.0.ledger().next();
        self.line(label, second);
        self.ended(visit, VisitOutcome::Complies, second + 10);
        self.0.ledger().visit(visit).unwrap().result().unwrap().clone()
    }
}

/// One that failed or was invalid says nothing of the bench, and is told as what it is.
#[test]
fn a_look_that_was_not_measured_is_not_as_it_was() {
    let mut day = Held::new(Some(reference()));
    day.looks(VisitOutcome::Complies, 36.0, 0);
    for (outcome, visit) in [(VisitOutcome::Failed, 2), (VisitOutcome::Invalid, 3)] {
        let effects = day.looks(outcome, 36.0, 4000);
        assert_eq!(effects, [Effect::Verdict(visit), Effect::Slip(visit)], "{outcome}");
        assert!(day.0.is_reference_due(at(4011)));
    }
}

/// Until a look is good again the bench is not shown to be as it was, and everybody is told.
#[test]
fn a_drift_stands_until_a_look_is_good_again() {
    let mut day = Held::new(Some(reference()));
    day.looks(VisitOutcome::Complies, 36.0, 0);
    assert!(!day.comes("X1ABC", 20).reference_drifted);
    day.looks(VisitOutcome::Complies, 34.0, 40);
    assert!(day.0.is_reference_due(at(51)));
    assert!(day.0.prompt(at(51)).starts_with("THE REFERENCE RADIO HAS DRIFTED"), "{}", day.0.prompt(at(51)));
    assert!(day.comes("Y2DEF", 60).reference_drifted);
    assert!(
        matches!(day.line("q", 71).as_slice(), [Effect::Say(told), Effect::Quit] if told.contains("had drifted"))
    );
    // One that could not be measured does not end it.
    day.looks(VisitOutcome::Invalid, 36.0, 80);
    assert!(day.comes("Z3GHI", 100).reference_drifted);
    day.looks(VisitOutcome::Complies, 36.2, 120);
    assert!(!day.comes("W4JKL", 140).reference_drifted && !day.0.is_reference_due(at(151)));
}

/// A visitor's radio by whose side the reference tag was scanned is the visitor's, with a slip, and nothing is held against it.
#[test]
fn a_mis_scan_of_the_reference_tag_is_undone() {
    let mut day = Held::new(Some(reference()));
    day.looks(VisitOutcome::Complies, 30.0, 0);
    day.looks(VisitOutcome::Complies, 36.0, 20);
    assert!(day.0.ledger().drifted().is_some() && day.comes("Y2DEF", 31).reference_drifted);
    let told = day.line("c 1 X1ABC", 45);
    assert!(
        matches!(told.as_slice(), [Effect::Say(told)] if told.contains("no look at the reference radio")),
        "{told:?}"
    );
    let ledger = day.0.ledger();
    assert!(!ledger.visit(1).unwrap().reference && ledger.drifted().is_none());
    assert_eq!(ledger.reference().map(|visit| visit.number), Some(2));
    assert!(!ledger.visit(3).unwrap().is_after_drift(), "it was none");
    assert_eq!(day.line("r 1", 46), [Effect::Slip(1)]);
    assert_eq!(crate::counted(day.0.ledger()), "2 visits and 1 look at the reference radio");
}

/// What the day's file says that tags begin with makes one; nothing else that looks like it does.
#[test]
fn a_tag_is_what_the_day_says() {
    let mut day = Held::new(None);
    day.0 = day.0.with_tags(vec!["T-".to_owned()]);
    for (word, is_tag) in [("T-12", true), ("t-13", true), ("T-", false), ("NL-123", false), ("#4", true)] {
        let effects = day.line(word, 0);
        let [Effect::Measure { visit, label }] = effects.as_slice() else { panic!("{word}: {effects:?}") };
        assert_eq!((label.tag.is_some(), label.in_public().is_empty()), (is_tag, !is_tag), "{word}");
        day.ended(*visit, VisitOutcome::Complies, 1);
    }
}
