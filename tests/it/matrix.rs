//! A plan over several supplies, channels and power settings: what the timetable says is what is done.

use crate::bench::{Workshop, root};
use serde_json::Value;

fn plan() -> String {
    root().join("config/plans/matrix.yaml").to_str().unwrap().to_owned()
}

/// Every key-down of the timetable happens: in its order, of its state, at its time and as long, and no other.
#[test]
fn the_timetable_comes_true() {
    let workshop = Workshop::new();
    let foretold = workshop.call(&["check", &plan(), "--json"]).json();
    let run = workshop.call(&["run", &plan(), "--json"]).json();
    let slots = foretold["timetable"].as_array().unwrap();
    let downs = run["key_downs"].as_array().unwrap();
    assert_eq!(slots.len(), downs.len());
    let second = |down: &Value| down["at"].as_str().unwrap().parse::<jiff::Timestamp>().unwrap();
    let first = second(&downs[0]);
    for (slot, down) in slots.iter().zip(downs) {
        for key in ["channel", "power_setting"] {
            assert_eq!(slot[key], down[key]);
        }
        let (keyed, held) = (slot["keyed_s"].as_f64().unwrap(), down["held_s"].as_f64().unwrap());
        assert!(held <= 3.0 && (0.9..1.35).contains(&(keyed / held)), "{keyed} s, {held} s");
        let at = slot["at_s"].as_f64().unwrap() - slots[0]["at_s"].as_f64().unwrap();
        let was = second(down).duration_since(first).as_secs_f64();
        assert!((at - was).abs() <= 0.05 * at + 1.0, "{at} s, {was} s");
    }
}

/// By hand: three supplies, one of them with all of two states and a channel of one more, two with the carrier alone.
#[test]
fn every_state_is_measured_as_far_as_the_plan_wants() {
    let workshop = Workshop::new();
    let run = workshop.call(&["run", &plan(), "--json"]).json();
    let readings = run["readings"].as_array().unwrap();
    let count = |supply: &str, quantity: &str| {
        let of = |reading: &&Value| reading["supply"] == supply && reading["quantity"] == quantity;
        readings.iter().filter(of).count()
    };
    assert_eq!(count("battery", "harmonic"), 3 * 9);
    assert_eq!((count("charged", "harmonic"), count("low", "harmonic")), (0, 0));
    assert_eq!((count("charged", "carrier_power"), count("low", "carrier_power")), (2, 2));
    assert!(readings.iter().all(|reading| reading["supply"] == "battery" || reading["channel"] == "VHF low"));
    let foretold = workshop.call(&["check", &plan(), "--json"]).json();
    let scopes = foretold["scopes"].as_array().unwrap();
    let all: usize = scopes
        .iter()
        .map(|scope| {
            let times = scope["supplies"].as_array().unwrap().len();
            times
                * (scope["readings"].as_array().unwrap().len() + scope["key_downs"].as_array().unwrap().len())
        })
        .sum();
    assert_eq!(all, readings.len());
}

#[test]
fn a_supply_that_the_plan_does_not_have_is_told() {
    let benches = root().join("config/benches");
    let text =
        std::fs::read_to_string(plan()).unwrap().replace("supplies: [ battery ]", "supplies: [ batery ]");
    let workshop = Workshop::with(&text.replace("../benches", benches.to_str().unwrap()), "");
    let called = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    for words in ["no supply of this plan is called `batery`", "battery, charged, low"] {
        assert!(called.talk.contains(words), "{}", called.talk);
    }
}
