//! Results of the bench as a day keeps them, and what must hold when something fails.

use spurline_runner::Files;
use spurline_units::Dbm;

use super::*;
use crate::specimen::{self, Onlooker};

/// The first radio's owner does not let go.
const HOLDS_ON: (&str, &str) = ("harmonics: { 2: 72 dB, 3: 74 dB, 4: 82 dB }", "hand: { lets_go: false }");

/// From now on nothing more can be added to the log.
fn fill(log: &Path) {
    let log = rusqlite::Connection::open(log).unwrap();
    let full =
        "CREATE TRIGGER full BEFORE INSERT ON entry BEGIN SELECT RAISE(ABORT, 'the disk is full'); END";
    log.execute_batch(full).unwrap();
}

/// Whatever fails beside it: the radio still transmits, and nobody else may be told to key.
#[test]
fn a_carrier_that_stays_is_not_forgotten_when_something_else_fails() {
    let folder = tempfile::tempdir().unwrap();
    let (day, record) = (specimen::day(folder.path(), &[HOLDS_ON]), specimen::record(folder.path()));
    let log = record.folder.join("days.sqlite");
    let reports = record.folder.join("reports");
    let files = Files::from_environment();
    let mut desk = Desk::open(day.clone(), &files, record.clone(), false).unwrap();
    let label = Label { serial: Some("W-0001".to_owned()), ..Label::default() };
    // No report can be written: the run in which the carrier stayed has broken off all the same.
    std::fs::write(&reports, "not a folder").unwrap();
    let found = FoundCarrier {
        carrier: spurline_units::Hertz::from_mhz(145.5),
        level: Dbm::new(36.7),
        shown: "shown".to_owned(),
        held: Duration::from_secs(1),
    };
    let unit = Some("W-0001".to_owned());
    let came = DayEvent::Came { visit: 1, label: label.clone(), reference: false };
    desk.keep(came).unwrap();
    assert!(desk.run(1, &label, unit, found, &mut Onlooker::default()).is_err());
    let why = desk.carrier_stays().expect("it stays").to_owned();
    assert!(why.contains("a carrier is there while the key is up"), "{why}");
    // The log takes it with the next line, and nobody is told to key by that.
    assert!(desk.line("W-0002", false, &mut Onlooker::default()).unwrap());
    assert_eq!(desk.ledger().visits().len(), 1);
    drop(desk);
    // The program that comes next knows of it.
    let mut desk = Desk::open(day, &files, record, false).unwrap();
    assert_eq!(desk.carrier_stays(), Some(why.as_str()));
    desk.line("off", false, &mut Onlooker::default()).unwrap();
    assert_eq!(desk.carrier_stays(), None);
    // The log fails while the radio is keyed.
    let mut onlooker = Onlooker { before_key: Some(Box::new(move || fill(&log))) };
    assert!(desk.line("a", false, &mut onlooker).is_err());
    assert!(desk.carrier_stays().is_some());
    assert!(desk.line("W-0002", false, &mut onlooker).is_err(), "what is not kept is not gone past");
    assert_eq!(desk.ledger().visits().len(), 2);
}

/// A key that nobody has confirmed to be up is a carrier that may stay.
#[test]
fn a_key_that_is_not_confirmed_to_be_up_may_be_down() {
    let lost = |confirmed| {
        let why = "it is gone".to_owned();
        Failure::Run(RunFault::Key(spurline_instrument::KeyError::NoHolder { why, keyed: true, confirmed }))
    };
    assert!(carrier_stays(&lost(false)) && !carrier_stays(&lost(true)));
}

/// Whoever transmits before anybody was told to is not the fault of the bench.
#[test]
fn a_carrier_before_the_key_is_refused_with_what_to_do() {
    let why = "36.00 dBm is at 145.5 MHz while the key is up".to_owned();
    let fault = RunFault::Interlock { name: InterlockName::NoCarrierBefore, why };
    let result = failed(Failure::Run(fault)).unwrap();
    assert_eq!(result.outcome, VisitOutcome::Refused);
    let why = result.why.unwrap();
    assert!(why.starts_with("36.00 dBm is at 145.5 MHz") && why.contains("Switch it off, or wait"), "{why}");
    let fault = RunFault::Interlock { name: InterlockName::Duty, why: "x".to_owned() };
    assert_eq!(failed(Failure::Run(fault)).unwrap().outcome, VisitOutcome::Failed);
}

/// A day that goes on past midnight stays one day; the next morning is another one.
#[test]
fn a_day_is_not_split_at_midnight() {
    let text = "day: Spring night\nbench: b.yaml\nrule: us-part-97\nbands: [ 144 MHz..148 MHz ]\n";
    let document = spurline_document::Document::parse("d.yaml", text).unwrap();
    let day = Day::read(&document).unwrap();
    let at = |hour: i64| Timestamp::from_second(1_800_000_000 + hour * 3600).unwrap();
    let entry = |day: String, at| DayEntry {
        number: 1,
        day,
        at,
        event: DayEvent::Came { visit: 1, label: Label::default(), reference: false },
    };
    let name = |hour, entries: &[DayEntry]| name_of(&day, at(hour), entries);
    let evening = name(0, &[]);
    assert!(evening.ends_with(" Spring night"));
    let entries = [entry(evening.clone(), at(20)), entry("2027-01-15 Another".to_owned(), at(21))];
    // Midnight lies between, in whichever zone.
    assert_eq!(name(25, &entries), evening);
    assert_ne!(name(32, &entries), evening);
    assert_ne!(name(25, &entries[1..]), evening);
    // The date was set back by a day.
    assert_ne!(name(-24, &entries), evening);
}

/// A day of the shipped bench, opened under a title.
fn open<'a>(folder: &Path, title: &str, in_bench: &[(&str, &str)], files: &'a Files) -> Desk<'a> {
    let day = Day { title: title.to_owned(), ..specimen::day(folder, in_bench) };
    Desk::open(day, files, specimen::record(folder), false).unwrap()
}

fn warmest(desk: &mut Desk<'_>) -> f64 {
    let warm = desk.warmth.now(present().1);
    warm.into_iter().map(|warm| warm.rise).fold(0.0, f64::max)
}

/// How a day is called says nothing of what still transmits on its bench, or of how warm that is.
#[test]
fn what_a_bench_went_through_is_known_under_every_title() {
    let (folder, files) = (tempfile::tempdir().unwrap(), Files::from_environment());
    let folder = folder.path();
    let mut evening = open(folder, "Evening", &[HOLDS_ON], &files);
    evening.line("W-0001", false, &mut Onlooker::default()).unwrap();
    assert!(evening.carrier_stays().is_some());
    drop(evening);
    let elsewhere =
        open(folder, "Elsewhere", &[("bench: Table at the door", "bench: Another table")], &files);
    assert_eq!(elsewhere.carrier_stays(), None);
    drop(elsewhere);
    let mut morning = open(folder, "Morning", &[HOLDS_ON], &files);
    morning.begin(&mut Onlooker::default()).unwrap();
    assert!(morning.carrier_stays().is_some());
    // What was heard of it alone is several seconds at what the pad bears: 50 W.
    let warm = warmest(&mut morning);
    assert!((0.01..0.2).contains(&warm), "{warm}");
    morning.line("W-0002", false, &mut Onlooker::default()).unwrap();
    assert!(morning.ledger().visits().is_empty(), "nobody is told to key");
    // It was there for ten minutes more: 50 W into what bears 50 W come to 1 - exp(-600/180) = 0.96.
    let before = present().1 - SignedDuration::from_secs(600);
    morning.warmth = Warmth::after(&[], &[], &morning.search, before);
    morning.line("off", false, &mut Onlooker::default()).unwrap();
    let warm = warmest(&mut morning);
    assert!((0.8..1.0).contains(&warm), "{warm}");
    drop(morning);
    assert_eq!(open(folder, "Evening", &[HOLDS_ON], &files).carrier_stays(), None);
}

/// A visit that broke off ended when its run did, and was keyed for as long as that says, or for as long as it may have been.
#[test]
fn what_broke_off_was_keyed_and_ended_before_it_was_looked_up() {
    let (folder, files) = (tempfile::tempdir().unwrap(), Files::from_environment());
    let folder = folder.path();
    let mut desk = open(folder, "Day", &[], &files);
    desk.line("REF-1", false, &mut Onlooker::default()).unwrap();
    let measured = desk.ledger().visit(1).unwrap().clone();
    let keyed = measured.result().unwrap().keyed;
    let run = measured.run.clone().unwrap();
    let store = Store::open_read_only(&desk.record.folder).unwrap();
    let ended = store.load_readings(&run).unwrap().ended.unwrap();
    for (visit, run) in [(2, Some(run)), (3, None)] {
        desk.keep(DayEvent::Came { visit, label: measured.label.clone(), reference: true }).unwrap();
        if let Some(run) = run {
            desk.keep(DayEvent::Measuring { visit, run }).unwrap();
        }
    }
    drop(desk);
    let mut desk = open(folder, "Day", &[], &files);
    let before = warmest(&mut desk);
    desk.begin(&mut Onlooker::default()).unwrap();
    let known = desk.ledger().visit(2).unwrap().ended.clone().unwrap();
    // Virtual time has run ahead of the date: an end that has not come is now.
    assert_eq!((known.1.ended, known.1.outcome), (Some(ended), VisitOutcome::Complies));
    assert!(known.0 <= present().1);
    assert!((known.1.keyed - keyed).abs() < 0.01 && keyed > 2.0, "{} s of {keyed} s", known.1.keyed);
    let unknown = desk.ledger().visit(3).unwrap().result().unwrap().clone();
    assert_eq!((unknown.outcome, unknown.keyed), (VisitOutcome::Stopped, 10.0));
    assert!(unknown.why.unwrap().contains("may have been keyed for up to 10 s"));
    assert!(warmest(&mut desk) > 2.0 * before, "{before}");
}
