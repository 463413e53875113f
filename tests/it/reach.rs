//! What a bench cannot reach and what a rule has no number for is said, never dropped.

use crate::bench::{Workshop, plan, simulated_bench};

#[test]
fn orders_beyond_the_analyser_are_undecided() {
    let plan = plan("435 MHz", 10).replace("us-part-97", "itu-category-a");
    let workshop = Workshop::with(&plan, &simulated_bench(3, ""));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    for order in 7..=10 {
        let reading = readings.iter().find(|reading| reading["order"] == order).unwrap();
        assert_eq!(reading["outcome"], "undecided", "{reading}");
        assert_eq!(reading["reason_code"], "beyond-this-bench");
        assert!(reading["reason"].as_str().unwrap().starts_with("beyond this bench: "), "{reading}");
    }
    let sixth = readings.iter().find(|reading| reading["order"] == 6).unwrap();
    assert_ne!(sixth["reason_code"], "beyond-this-bench", "2.61 GHz is within reach");
    assert_eq!(readings.len(), 10);
}

/// 47 CFR 97.307 has no numeric limit for a carrier above 225 MHz.
#[test]
fn a_carrier_without_a_number_ends_with_status_3() {
    let workshop = Workshop::with(&plan("446 MHz", 4), &simulated_bench(3, ""));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 3, "{called:?}");
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    let harmonics: Vec<_> = readings.iter().filter(|reading| reading["quantity"] == "harmonic").collect();
    assert_eq!(harmonics.len(), 3);
    for reading in harmonics {
        let found = (&reading["outcome"], &reading["reason_code"]);
        assert_eq!(found, (&"no limit".into(), &"no-numeric-limit".into()));
    }
}
