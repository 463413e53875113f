//! Power along the supply voltage: the course, the end point, what the supply could not give.

use serde_json::Value;

use crate::bench::{reading, readings, shipped};

fn series(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Value {
    reading(&shipped(("courses", "warm"), in_plan, in_bench), "power_over_supply")
}

fn column(reading: &Value, name: &str) -> Vec<Option<f64>> {
    let columns = reading["course"].as_array().unwrap();
    let column = columns.iter().find(|column| column["name"] == name);
    let column = column.unwrap_or_else(|| panic!("no {name} in {columns:#?}"));
    column["values"].as_array().unwrap().iter().map(Value::as_f64).collect()
}

/// Without its regulation the bench's unit gives 4.9 W at 7.4 V and goes with the square of the voltage: at 6.4 V 3.67 W.
#[test]
fn the_power_follows_the_supply() {
    let reading = series(&[("3.5..6 W", "3..6.5 W")], &[(", regulated_above: 7 V,", ",")]);
    assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    let volts = column(&reading, "supply voltage");
    let watts = column(&reading, "carrier power");
    let expected = [8.0, 7.6, 7.2, 6.8, 6.4, 6.0];
    for ((at, power), says) in volts.iter().zip(&watts).zip(expected) {
        let (at, power) = (at.unwrap(), power.unwrap());
        let truth = 4.9 * (at / 7.4f64).powi(2);
        assert!(
            (at - says).abs() < 1e-9 && (10.0 * (power / truth).log10()).abs() < 0.4,
            "{at} V: {power} W"
        );
    }
    // Amperes times volts is more than what comes out.
    for share in column(&reading, "efficiency") {
        assert!((10.0..100.0).contains(&share.unwrap()), "{share:?} %");
    }
}

/// Two harmonics at each of the five voltages from the end point up, beside those of the channel itself.
#[test]
fn harmonics_count_from_the_end_point_up() {
    let all = readings(&shipped(("courses", "warm"), &[("3.5..6 W", "3..6.5 W")], &[]));
    let harmonics = all.iter().filter(|reading| reading["quantity"] == "harmonic");
    let supplies: Vec<&str> = harmonics.map(|reading| reading["supply"].as_str().unwrap()).collect();
    assert_eq!(supplies.len(), 12, "{supplies:?}");
    assert_eq!(supplies.iter().filter(|name| **name == "battery at 6.4 V").count(), 2);
    assert!(!supplies.contains(&"battery at 6 V"), "{supplies:?}");
}

/// A regulated last stage, as the bench has it: flat from 7 V up, from there on with the square.
#[test]
fn a_regulated_unit_holds_its_power_down_to_its_knee() {
    let reading = series(&[], &[]);
    assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    for (at, power) in column(&reading, "supply voltage").into_iter().zip(column(&reading, "carrier power")) {
        let (at, power) = (at.unwrap(), power.unwrap());
        let truth = 4.9 * (at.min(7.0) / 7.0f64).powi(2);
        assert!((10.0 * (power / truth).log10()).abs() < 0.4, "{at} V: {power} W, and not {truth} W");
    }
}

/// Below its window at the end point it exceeds; below the end point nothing counts.
#[test]
fn the_end_point_decides() {
    let weak = ("3.5..6 W", "4.4..6.5 W");
    let reading = series(&[weak], &[]);
    assert_eq!((&reading["outcome"], &reading["reason_code"]), (&"exceeds".into(), &"outside-window".into()));
    assert!(reading["reason"].as_str().unwrap().starts_with("at 6.4 V"), "{reading:#?}");
    let reading = series(&[weak, ("end_point: 6.4 V", "end_point: 7.2 V")], &[]);
    assert_eq!(reading["outcome"], "complies", "{reading:#?}");
}

/// A unit that falls silent above its end point is seen to come again at a voltage where it had come.
#[test]
fn a_unit_that_gives_up_before_its_end_point_exceeds() {
    let reading = series(
        &[("3.5..6 W", "3..6.5 W")],
        &[("power_follows_supply", "works_from: 6.6 V, power_follows_supply")],
    );
    assert_eq!(reading["outcome"], "exceeds", "{reading:#?}");
    assert!(reading["reason"].as_str().unwrap().contains("came again"), "{reading:#?}");
    assert_eq!(column(&reading, "carrier power")[4..], [None, None]);
}

/// A supply at its current limit does not feed what it was told to: nothing is said about the unit.
#[test]
fn a_supply_at_its_limit_decides_nothing() {
    let reading = series(&[("3.5..6 W", "2.5..6.5 W"), ("limit: 2.5 A", "limit: 1.2 A")], &[]);
    assert_eq!(
        (&reading["outcome"], &reading["reason_code"]),
        (&"undecided".into(), &"supply-limit".into()),
        "{reading:#?}"
    );
}

/// The same where the unit does not even come up: what the supply says is asked all the same.
#[test]
fn a_unit_that_a_limit_keeps_silent_is_not_charged() {
    let constant = ("power_follows_supply: true, nominal: 7.4 V, regulated_above: 7 V,", "");
    // A unit that is silent from the beginning shows nothing of the path.
    let unproven = ("\ncommon:", "\nverify_path: false\ncommon:");
    let reading = series(&[("limit: 2.5 A", "limit: 1.2 A")], &[constant, unproven]);
    assert_eq!(reading["reason_code"], "supply-limit", "{reading:#?}");
    assert_eq!(reading["outcome"], "undecided");
}

/// A slip in a voltage is not tried on the unit.
#[test]
fn a_voltage_far_above_that_of_the_plan_is_refused() {
    let called =
        shipped(("courses", "warm"), &[("from: 8 V", "from: 80 V")], &[]).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2);
    assert!(called.talk.contains("80 V") && called.talk.contains("1.3 times"), "{}", called.talk);
}

/// Harmonics that the analyser does not reach are told, and not left out.
#[test]
fn harmonics_beyond_the_bench_are_told() {
    let workshop = shipped(
        ("courses", "warm"),
        &[("  harmonics_up_to: 3", "  harmonics_up_to: 22"), ("steps: 6 ", "steps: 2 ")],
        &[],
    );
    let beyond = readings(&workshop).into_iter().filter(|reading| {
        reading["reason_code"] == "beyond-this-bench" && reading["supply"] == "battery at 6.4 V"
    });
    assert!(beyond.count() > 0);
}

#[test]
fn names_that_lead_nowhere_are_told() {
    let workshop = shipped(("courses", "warm"), &[("of: battery", "of: batery")], &[]);
    let called = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2);
    assert!(called.talk.contains("did you mean `battery`?"), "{}", called.talk);
}
