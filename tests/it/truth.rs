//! A small draw of the truth test, always the same; `scripts/truth` runs a large one.

use std::thread;

use spurline_tests::truth::{Case, Tally, phases, run};

fn tallied(cases: &[Case]) -> Tally {
    let mut whole = Tally::default();
    thread::scope(|scope| {
        let halves: Vec<_> = cases
            .chunks(cases.len().div_ceil(2))
            .map(|half| {
                scope.spawn(move || {
                    let mut tally = Tally::default();
                    for case in half {
                        match run(case) {
                            Ok(ran) => tally.add(case, &ran),
                            Err(error) => tally.failed.push((case.seed, error.to_string())),
                        }
                    }
                    tally
                })
            })
            .collect();
        for half in halves {
            whole.merge(half.join().unwrap());
        }
    });
    whole
}

#[test]
fn no_unit_is_judged_against_its_truth() {
    let cases: Vec<Case> = (0..40).map(|seed| Case::draw(77_000_000 + seed)).collect();
    let tally = tallied(&cases);
    assert!(tally.missed().is_empty(), "{:#?}\n{tally}", tally.missed());
    // It was put to the test: values, bounds, undecided ones, benches that cannot hear.
    assert!(tally.readings == 400 && tally.covered.all > 150 && tally.false_within.all > 20, "{tally}");
    assert!(cases.iter().any(|case| case.is_deaf));
}

/// One step of the attenuator can be fooled: at some phases a sum of harmonic and own product does not move though both
/// readings are wrong.
#[test]
fn no_phase_of_an_own_product_makes_a_wrong_outcome() {
    let mut cases = Vec::new();
    for (order, over) in [(2, 3.0), (2, -3.0), (3, 3.0), (3, -3.0)] {
        for ratio in [0.5, 1.0, 2.0] {
            cases.extend((0..8).map(|phase| phases::case(order, over, ratio, f64::from(phase) * 45.0)));
        }
    }
    let tally = tallied(&cases);
    assert!(tally.failed.is_empty(), "{:?}", tally.failed);
    let wrong = [&tally.complies_beyond, &tally.exceeds_inside, &tally.broken_bounds];
    assert!(wrong.iter().all(|named| named.is_empty()) && tally.false_within.of == 0, "{wrong:?}\n{tally}");
}
