//! Emission in standby: the receiver's lines are told from those on the air, and held against the limit.

use serde_json::Value;

use crate::bench::{readings, shipped};

fn standby(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Vec<Value> {
    let mut readings = readings(&shipped(("standby", "standby"), in_plan, in_bench));
    readings.retain(|reading| reading["quantity"] == "standby");
    readings
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// The truth stands in the bench file: a local oscillator 21.4 MHz below the channel, a reference.
#[test]
fn the_receivers_lines_are_found_and_comply() {
    let found = standby(&[], &[]);
    let lines: Vec<(f64, f64)> = found[1..]
        .iter()
        .map(|reading| (number(&reading["frequency_hz"]), number(&reading["level_dbm"])))
        .collect();
    assert_eq!(found.len(), 3, "{found:#?}");
    for ((frequency, level), (of_file, says)) in lines.iter().zip([(123.6e6, -62.0), (614.4e6, -66.0)]) {
        assert!(
            (frequency - of_file).abs() < 10e3 && (level - says).abs() < 2.0,
            "{frequency} Hz, {level} dBm"
        );
    }
    for reading in &found {
        assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    }
    assert_eq!(found[0]["bound"], true);
}

#[test]
fn a_receiver_above_the_limit_exceeds() {
    let found = standby(&[], &[("level: -62 dBm", "level: -50 dBm")]);
    assert_eq!(
        (&found[1]["outcome"], &found[1]["reason_code"]),
        (&"exceeds".into(), &"receiver".into()),
        "{found:#?}"
    );
    // The range as a whole was looked through deep enough all the same.
    assert_eq!(found[0]["outcome"], "complies");
}

/// As strong as the receiver's line above the limit, and there with the unit off.
#[test]
fn a_line_on_the_air_is_never_charged() {
    let found = standby(&[], &[("level: -96 dBm", "level: -80 dBm")]);
    assert_eq!(found.len(), 3, "{found:#?}");
    assert_eq!((&found[0]["outcome"], &found[0]["reason_code"]), (&"undecided".into(), &"ambient".into()));
    assert!(found[0]["reason"].as_str().unwrap().contains("98.1"), "{found:#?}");
}

/// Without a supply nothing can switch the unit off: a line above the limit is undecided, one below it complies.
#[test]
fn without_a_supply_a_line_above_the_limit_is_undecided() {
    let without = |level: &str| {
        standby(
            &[("supply: [", "# [")],
            &[
                ("supply: { at: \"TCPIP::127.0.0.1::15027::SOCKET\", profile: supply-generic }\n", ""),
                ("  supply: {}\n", ""),
                ("level: -62 dBm", level),
            ],
        )
    };
    assert_eq!(without("level: -50 dBm")[1]["outcome"], "undecided");
    assert_eq!(without("level: -62 dBm")[1]["outcome"], "complies");
}

#[test]
fn a_floor_above_the_limit_is_told_before_anything_is_measured() {
    let workshop = shipped(
        ("standby", "standby"),
        &[("from: 30 MHz, to: 1 GHz, limit: -57 dBm", "from: 200 MHz, to: 205 MHz, limit: -95 dBm")],
        &[],
    );
    let page = workshop.call(&["check", "plan.yaml"]).out;
    assert!(page.contains("unable"), "{page}");
    let found = readings(&workshop);
    let range = found.iter().find(|reading| reading["quantity"] == "standby").unwrap();
    assert_eq!((&range["outcome"], &range["reason_code"]), (&"undecided".into(), &"floor-too-high".into()));
}

/// 47 CFR 15.111(a): receivers with antenna terminals, 2 nW (-57 dBm) on any frequency.
#[test]
fn a_rule_gives_the_limit() {
    let found = standby(&[("limit: -57 dBm", "rule: us-part-15-receiver")], &[]);
    let limit = number(&found[1]["limit_dbm"]);
    assert!((limit - -57.0).abs() < 0.02, "{found:#?}");
}
