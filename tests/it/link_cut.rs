//! The analyser's link is cut in the middle of a run while the relay still answers.

use crate::bench::{Workshop, plan, simulated_bench};
use crate::processes::Serving;

const CUT: &str = "  faults: [ { instrument: analyser, does: cut-link, after_messages: 18 } ]\n";

#[test]
fn finished_readings_are_kept_and_the_key_comes_up() {
    let workshop = Workshop::with(&plan("146 MHz", 4), "");
    let serving = Serving::start(&workshop, CUT);
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

/// The relay's own link is cut while it is closed: nobody can confirm key up, and that is what a person hears of, once.
#[test]
fn a_key_that_does_not_confirm_is_told_before_everything_else() {
    let cut = "  faults: [ { instrument: relay, does: cut-link, after_messages: 8 } ]\n";
    let workshop = Workshop::with(&plan("146 MHz", 10), &simulated_bench(2, cut));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the transmitter may still be keyed"), "{called:?}");
    assert!(called.talk.contains("help: switch the unit's supply off by hand now"), "{called:?}");
    let shown = workshop.call(&["show", "last"]);
    assert_eq!(shown.out.matches("failed: the key failed").count(), 1, "{shown:?}");
}
