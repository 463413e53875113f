//! A small draw of the truth test, and every scenario that must never fool the measurement, coarsely.
//! `scripts/truth` runs large ones.

use spurline_tests::truth::cases::{ALL, Sweep};
use spurline_tests::truth::{Crowd, Subject, Summary, Texts, page};

use crate::bench::Workshop;

/// Tests run side by side already.
const THREADS: usize = 2;
const SEED: u64 = 1;
const UNITS: usize = 40;

/// Of so few readings, shares say little: only what must never be is held against them.
#[test]
fn no_outcome_is_wrong_by_more_than_its_uncertainty() {
    let crowd = Crowd::measure(UNITS, THREADS, |number| Subject::draw(SEED, number as u64));
    let summary = Summary::of(&crowd);
    assert_eq!((summary.units, summary.broken.len()), (UNITS, 0), "{}", page(&summary));
    assert_eq!(summary.outcomes.beyond(), 0, "{}", page(&summary));
    // A draw in which nothing is near a limit, or everything undecided, would show nothing.
    let near = summary.undecided.near;
    assert!(near.of > 50 && near.hits < near.of, "{}", page(&summary));
    assert!(summary.by_outcome["complies"] > 100 && summary.by_outcome["exceeds"] > 30, "{}", page(&summary));
}

#[test]
fn scenarios_do_not_fool_the_measurement() {
    for case in ALL.iter().filter(|case| case.open.is_none()) {
        let stood = case.sweep(Sweep::Small, THREADS);
        assert!(stood.stands(), "{}", stood.words());
    }
}

/// The files of a unit are whole: the built program measures the same from them.
#[test]
fn a_drawn_unit_can_be_measured_from_its_files() {
    let workshop = Workshop::new();
    let subject = Subject::draw(SEED, 3);
    Texts::of(&subject).unwrap().write(workshop.folder.path()).unwrap();
    let document = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let crowd = Crowd::measure(1, 1, |_| subject.clone());
    let readings = &crowd.0[0].ran.as_ref().unwrap().readings;
    let told = document["readings"].as_array().unwrap();
    assert_eq!(told.len(), readings.len());
    for (told, held) in told.iter().zip(readings) {
        assert_eq!(told["outcome"], held.outcome.word());
        assert_eq!(told["expanded_uncertainty_db"].as_f64(), held.expanded);
    }
}
