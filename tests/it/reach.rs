//! What a bench cannot reach and what a rule has no number for is said, never dropped.

use crate::bench::{Called, Workshop, plan, simulated_bench};

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

/// What was printed, however its lines were broken.
fn one_line(called: &Called) -> String {
    format!("{} {}", called.out, called.talk).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What is swept counts, and not only the frequency in its middle: 500 kHz to each side of a carrier, 150 kHz of a harmonic.
#[test]
fn a_sweep_that_leaves_the_analysers_range_is_told_beforehand() {
    let checked = |carrier: &str, up_to: u32| {
        let plan = plan(carrier, up_to).replace("us-part-97", "itu-category-a");
        // Tables that reach as far down as the analyser.
        let bench = simulated_bench(3, "").replace("1 MHz", "9 kHz");
        Workshop::with(&plan, &bench).call(&["check", "plan.yaml"])
    };
    let low = checked("50 kHz", 2);
    assert_eq!(low.exit, 2, "{low:?}");
    for words in ["the sweep about 50 kHz takes 500 kHz to each side", "plan.yaml:"] {
        assert!(one_line(&low).contains(words), "{words}: {low:?}");
    }
    let high = checked("1.49995 GHz", 2);
    let words = "the sweep about 2.9999 GHz takes 150 kHz to each side, which reaches beyond the analyser's range, 9 kHz..3 GHz";
    assert!(high.exit == 0 && one_line(&high).contains(words), "{high:?}");
    let beyond = checked("1.6 GHz", 2);
    let words = "beyond this bench: 3.2 GHz is beyond the analyser's range";
    assert!(beyond.exit == 0 && one_line(&beyond).contains(words), "{beyond:?}");
}
