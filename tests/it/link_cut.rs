//! The analyser's link is cut in the middle of a run while the relay still answers.

use crate::bench::{Workshop, plan, simulated_bench};
use crate::processes::Serving;

const CUT: &str = "  faults: [ { instrument: analyser, does: cut-link, after_messages: 32 } ]\n";

#[test]
fn finished_readings_are_kept_and_the_key_comes_up() {
    let workshop = Workshop::with(&plan("146 MHz", 4), "");
    let serving = Serving::start(&workshop, CUT);
    // Real time passes here.
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &bench.replace("bench: test\n", "bench: test\nreconnect_within: 2 s\n"));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the analyser failed"), "{called:?}");
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    assert!(!readings.is_empty() && readings.len() < 4, "{document}");
    assert_eq!(readings[0]["outcome"], "complies", "the carrier was finished before the cut");
    assert_eq!(document["state"], "failed");
    assert!(!serving.keyed(), "the relay is open");
}

#[test]
fn the_same_in_virtual_time() {
    let workshop = Workshop::with(&plan("146 MHz", 4), &simulated_bench(2, CUT));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    let (down, up) = (called.talk.rfind("KEY DOWN"), called.talk.rfind("key up after"));
    assert!(down.is_some() && up > down, "{called:?}");
    let shown = workshop.call(&["show", "last", "--json"]).json();
    assert_eq!(shown["state"], "failed");
    assert!(!shown["readings"].as_array().unwrap().is_empty());
}

/// A link that comes back is made again, and the scope is measured from its beginning: the readings are those of a
/// run that was not disturbed.
#[test]
fn a_link_that_comes_back_costs_nothing_but_time() {
    let undisturbed = Workshop::with(&plan("146 MHz", 4), &simulated_bench(2, ""));
    let wanted = undisturbed.call(&["run", "plan.yaml", "--json"]);
    for instrument in ["analyser", "power-meter", "unit-control", "relay"] {
        for after in [8, 14, 20, 26, 32] {
            let cut = format!(
                "  faults: [ {{ instrument: {instrument}, does: cut-link, after_messages: {after}, lasts: 5 s }} ]\n"
            );
            let workshop = Workshop::with(&plan("146 MHz", 4), &simulated_bench(2, &cut));
            let called = workshop.call(&["run", "plan.yaml", "--json"]);
            assert_eq!(called.exit, wanted.exit, "{instrument} {after}: {called:?}");
            let outcomes = |called: &crate::bench::Called| -> Vec<String> {
                let readings = called.json()["readings"].as_array().unwrap().clone();
                readings.iter().map(|reading| reading["outcome"].as_str().unwrap().to_owned()).collect()
            };
            assert_eq!(outcomes(&called), outcomes(&wanted), "{instrument} {after}");
        }
    }
}

/// The relay's own link is cut while it is closed: nobody can confirm key up, and that is what a person hears of, once.
#[test]
fn a_key_that_does_not_confirm_is_told_before_everything_else() {
    let cut = "  faults: [ { instrument: relay, does: cut-link, after_messages: 10 } ]\n";
    let workshop = Workshop::with(&plan("146 MHz", 10), &simulated_bench(2, cut));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the transmitter may still be keyed"), "{called:?}");
    assert!(called.talk.contains("help: switch the unit's supply off by hand now"), "{called:?}");
    let shown = workshop.call(&["show", "last"]);
    assert_eq!(shown.out.matches("failed: the key failed").count(), 1, "{shown:?}");
}
