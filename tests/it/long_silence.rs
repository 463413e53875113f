//! Links over which nothing passes for a while die, and that is found out before the key is down, not after.

use serde_json::Value;

use crate::bench::{Called, Workshop, root};

/// The demonstration, whose unit rests for a minute between key-downs, with a fault.
fn demonstration(fault: &str) -> (Workshop, Called) {
    let config = root().join("config");
    let bench = std::fs::read_to_string(config.join("benches/demo.yaml")).unwrap();
    let bench = bench.replace("../paths/", &format!("{}/paths/", config.display()));
    let workshop = Workshop::new();
    let faults = if fault.is_empty() { String::new() } else { format!("  faults: [ {{ {fault} }} ]\n") };
    workshop.write("bench.yaml", &format!("{bench}{faults}"));
    let plan = config.join("plans/demo.yaml");
    let called = workshop.call(&["run", plan.to_str().unwrap(), "--bench", "bench.yaml", "--json"]);
    (workshop, called)
}

fn outcomes(called: &Called) -> Vec<String> {
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    readings.iter().map(|reading| reading["outcome"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn no_key_down_is_wasted_on_a_link_that_died_meanwhile() {
    let (_, wanted) = demonstration("");
    assert_eq!((wanted.exit, outcomes(&wanted).len()), (1, 30), "{wanted:?}");
    for instrument in ["analyser", "power-meter", "unit-control", "relay", "supply"] {
        let (_, called) = demonstration(&format!("instrument: {instrument}, does: idle-death, by: 30 s"));
        assert_eq!(called.exit, 1, "{instrument}: {called:?}");
        assert_eq!(outcomes(&called), outcomes(&wanted), "{instrument}");
        let downs = called.json()["key_downs"].as_array().unwrap().clone();
        assert_eq!(downs.len(), 3, "{instrument}: {downs:?}");
        let held = |down: &Value| down["held_s"].as_f64().unwrap();
        assert!(downs.iter().all(|down| held(down) < 4.0), "{instrument}: {downs:?}");
    }
}

/// Nobody speaks to the supply between feeding and switching off: its link is likely to have died by then.
#[test]
fn a_supply_is_switched_off_over_a_new_link_if_the_old_one_died() {
    for fault in ["does: idle-death, by: 30 s", "does: cut-link, after_messages: 10, lasts: 1 s"] {
        let (workshop, called) = demonstration(&format!("instrument: supply, {fault}"));
        assert_eq!(called.exit, 1, "{fault}: {called:?}");
        let shown = workshop.call(&["show", "last", "--transcript", "--link", "supply", "--json"]);
        let entries = shown.json()["entries"].as_array().unwrap().clone();
        let told =
            |entry: &Value, what: &str| entry["text"].as_str().is_some_and(|text| text.starts_with(what));
        let last = entries.iter().rposition(|entry| told(entry, "OUTP ")).unwrap();
        assert!(told(&entries[last], "OUTP OFF"), "{fault}: {entries:?}");
        assert_eq!(entries[last + 1]["direction"], "from", "{fault}: it has answered");
    }
}
