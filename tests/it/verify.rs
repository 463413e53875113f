//! The lowest power setting verifies the path before the others are keyed: a cable that was swapped since is found out.

use serde_json::Value;

use crate::bench::{Called, Workshop, root};

/// The shipped bench whose paths were measured, with the shipped plan, in one folder; the seed of its simulation stays.
fn workshop(plan: (&str, &str), bench: (&str, &str)) -> Workshop {
    let shipped = |name: &str| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let workshop = Workshop::new();
    let plan_text = shipped("plans/demo.yaml").replace("../benches/demo.yaml", "bench.yaml");
    let bench_text = shipped("benches/calibrated.yaml").replace("../paths/", "");
    workshop.write("plan.yaml", &replaced(&plan_text, plan));
    workshop.write("bench.yaml", &replaced(&bench_text, bench));
    for table in ["to-analyser.yaml", "to-power-meter.yaml"] {
        workshop.write(table, &shipped(&format!("paths/{table}")));
    }
    workshop
}

fn replaced(text: &str, (from, to): (&str, &str)) -> String {
    assert!(text.contains(from), "`{from}` is not in:\n{text}");
    text.replace(from, to)
}

const AS_IT_IS: (&str, &str) = ("plan:", "plan:");
const BENCH_AS_IT_IS: (&str, &str) = ("bench:", "bench:");
/// At 144.2 MHz 4 dB times the root of 0.1442, 1.52 dB, instead of 0.19 dB: less than both data sheets leave room for.
const SWAPPED: (&str, &str) =
    ("{ name: lead-a, cable: 0.5 dB, at: 1 GHz", "{ name: lead-a, cable: 4 dB, at: 1 GHz");

fn swap(workshop: &Workshop) {
    let text = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &replaced(&text, SWAPPED));
}

fn run(workshop: &Workshop) -> Called {
    workshop.call(&["run", "plan.yaml", "--json"])
}

fn settings(document: &Value) -> Vec<String> {
    let readings = document["readings"].as_array().unwrap();
    let mut settings: Vec<String> =
        readings.iter().map(|reading| reading["power_setting"].as_str().unwrap().to_owned()).collect();
    settings.dedup();
    settings
}

#[test]
fn the_lowest_setting_is_measured_first_and_costs_no_key_down_of_its_own() {
    let workshop = workshop(AS_IT_IS, BENCH_AS_IT_IS);
    let called = run(&workshop);
    assert_eq!(called.exit, 0, "{called:?}");
    assert_eq!(settings(&called.json()), ["low", "high"]);
    let downs = workshop.call(&["check", "plan.yaml", "--json"]).json();
    assert!(downs.to_string().contains("\"key_downs\""), "{downs}");
    let unordered = workshop_without();
    assert_eq!(settings(&run(&unordered).json()), ["high", "low", "high"]);
}

fn workshop_without() -> Workshop {
    workshop(AS_IT_IS, ("verify_path: true", "verify_path: false"))
}

/// What an earlier run noted of both instruments shows what their data sheets would let pass.
#[test]
fn a_cable_that_was_swapped_is_found_out_before_full_power() {
    let workshop = workshop(AS_IT_IS, BENCH_AS_IT_IS);
    assert_eq!(run(&workshop).exit, 0);
    // The same again: two runs differ by nothing that counts.
    assert_eq!(run(&workshop).exit, 0);
    swap(&workshop);
    let called = run(&workshop);
    assert_eq!(called.exit, 4, "{called:?}");
    for told in [
        "the path `direct` is not what its tables say, at `low`",
        "analyser less power meter is",
        "more than",
    ] {
        assert!(called.talk.contains(told), "`{told}`: {}", called.talk);
    }
    let document = called.json();
    assert_eq!(settings(&document), ["low"], "nothing was keyed at more");
    let readings = document["readings"].as_array().unwrap();
    assert!(
        readings.len() == 10 && readings.iter().all(|reading| reading["outcome"] == "invalid"),
        "{document}"
    );
    assert_eq!(readings[0]["reason_code"], "cross-check-failed", "{}", readings[0]);
    // The record has what it was held against: the replay comes to the same.
    let replayed = workshop.call(&["replay", "last"]);
    assert_eq!(replayed.exit, 0, "{replayed:?}");
    // An invalid run is nothing to hold the next one against.
    assert_eq!(run(&workshop).exit, 4);
    // Measured anew, the path is again what its table says.
    let measured = workshop.call(&[
        "path",
        "bench.yaml",
        "--plan",
        "plan.yaml",
        "--out",
        "to-analyser.yaml",
        "--replace",
    ]);
    assert_eq!(measured.exit, 0, "{measured:?}");
    let called = run(&workshop);
    assert_eq!(called.exit, 0, "{called:?}");
}

/// Without an earlier run the data sheets of both must do: 4 dB at the carrier are beyond them.
#[test]
fn a_path_that_is_far_off_is_found_out_at_the_first_run() {
    let off = (SWAPPED.0, "{ name: lead-a, cable: 11 dB, at: 1 GHz");
    let called = run(&workshop(AS_IT_IS, off));
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("power meter") && called.talk.contains("differ by"), "{}", called.talk);
    assert_eq!(settings(&called.json()), ["low"]);
    // Where nothing is verified everything is measured, and invalid.
    let workshop = workshop_without();
    let text = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &replaced(&text, off));
    let called = run(&workshop);
    assert_eq!(called.exit, 3, "{called:?}");
}

/// A plan with one setting verifies nothing, unless the bench file says so.
#[test]
fn one_setting_is_verified_only_where_the_bench_file_says_so() {
    let one = ("power: { high: 4..5.5 W, low: 0.5..1.5 W }", "power: { high: 4..5.5 W }");
    for (verify, exit) in [("", 0), ("verify_path: true", 4)] {
        let workshop = workshop(one, ("verify_path: true", verify));
        assert_eq!(run(&workshop).exit, 0);
        swap(&workshop);
        let called = run(&workshop);
        assert_eq!(called.exit, exit, "{verify}: {called:?}");
    }
}

/// With the analyser alone the same unit must give what it gave.
#[test]
fn without_a_power_meter_the_carrier_is_held_against_what_it_was() {
    let workshop = workshop(AS_IT_IS, BENCH_AS_IT_IS);
    let text = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    let alone: String = text
        .lines()
        .filter(|line| !line.starts_with("power_meter:") && !line.starts_with("  power_meter: [ { loss"))
        .map(|line| format!("{line}\n"))
        .collect();
    workshop.write("bench.yaml", &alone);
    let first = run(&workshop);
    assert!([0, 3].contains(&first.exit), "{first:?}");
    swap(&workshop);
    let called = run(&workshop);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("the carrier against what it was"), "{}", called.talk);
}
