//! Everything that goes wrong on a link, on every link: a run ends with right readings or with a clear error, never
//! with a wrong number, and the key is up.
//!
//! The outcome of each case is a table of the book, `docs/src/recovery.md`, which this holds up to date. To write it
//! anew: `SPURLINE_WRITE_DOCS=1 cargo test -p spurline-tests -- faults`.

mod cases;
mod outcome;
mod page;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::bench::{PARTS, Workshop, plan, root, simulated};
use cases::{CASES, Case, DIALECTS, LINKS, OTHERS, Place};
use outcome::{Ended, Readings};

/// A run on a bench whose instruments answer over some kind of link, with a fault or without.
fn run(link: Place, fault: &str) -> (Ended, Readings) {
    run_as(link, fault, ("", ""))
}

/// The same with another line in the analyser's profile.
fn run_as(link: Place, fault: &str, (usual, own): (&str, &str)) -> (Ended, Readings) {
    let faults = if fault.is_empty() { String::new() } else { format!("  faults: [ {fault} ]\n") };
    let instruments = link.instruments().replace("profile: analyser-generic", "profile: own.yaml");
    let bench = [instruments, PARTS.to_owned(), simulated(2, &faults)].concat();
    let workshop = Workshop::with(&plan("146 MHz", 3), &bench);
    let profile = std::fs::read_to_string(root().join("config/profiles/analyser-generic.yaml")).unwrap();
    assert!(profile.contains(usual), "`{usual}` is in the profile");
    workshop.write("own.yaml", &profile.replacen(usual, own, 1));
    outcome::of(&workshop.call(&["run", "plan.yaml", "--json"]))
}

/// What each of the cases comes to, in their order.
fn outcomes(cases: &[(Place, &str, &Case)]) -> Vec<Ended> {
    let undisturbed: Vec<(Place, Readings)> = LINKS.map(|link| (link, run(link, "").1)).to_vec();
    let found = Mutex::new(vec![None; cases.len()]);
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    let Some((link, instrument, case)) = cases.get(place) else { return };
                    let (ended, readings) = run(*link, &case.faults(instrument));
                    let right = &undisturbed.iter().find(|(of, _)| of == link).unwrap().1;
                    readings.must_be_those_of(right, &format!("{instrument} {case:?} over {link:?}"));
                    ended.must_be_clean(
                        readings.count() == right.count(),
                        &format!("{instrument} {case:?} over {link:?}"),
                    );
                    found.lock().unwrap()[place] = Some(ended);
                }
            });
        }
    });
    found.into_inner().unwrap().into_iter().map(Option::unwrap).collect()
}

#[test]
fn no_fault_makes_a_wrong_number() {
    let mut cases: Vec<(Place, &str, &Case)> = Vec::new();
    for case in CASES {
        cases.extend(LINKS.map(|link| (link, "analyser", case)));
    }
    for case in CASES {
        cases.extend(OTHERS.map(|instrument| (Place::Socket, instrument, case)));
    }
    let outcomes = outcomes(&cases);
    let (analyser, others) = outcomes.split_at(CASES.len() * LINKS.len());
    page::must_be(analyser, others);
}

/// What is the way of an instrument, and no fault, is said in its profile: then nothing is to be got over.
#[test]
fn a_profile_that_says_so_makes_it_right() {
    for link in [Place::Socket, Place::Serial] {
        let right = run(link, "").1;
        for (does, usual, own) in DIALECTS {
            let of = format!("analyser {does} with `{own}` over {link:?}");
            let (ended, readings) =
                run_as(link, &format!("{{ instrument: analyser, does: {does} }}"), (usual, own));
            assert_eq!(ended, Ended::Unnoticed, "{of}");
            assert_eq!(readings.count(), right.count(), "{of}");
            readings.must_be_those_of(&right, &of);
        }
    }
}
