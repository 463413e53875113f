//! The JSON document: its keys are a contract.

mod specimen;

use spurline_report::{json, reading_json};

/// The keys of a reading that scripts rely on.
const KEYS: [&str; 22] = [
    "number",
    "quantity",
    "channel",
    "carrier_hz",
    "power_setting",
    "supply",
    "path",
    "order",
    "frequency_hz",
    "value",
    "unit",
    "level_dbm",
    "bound",
    "limit_dbm",
    "limit_low",
    "limit_high",
    "possible_limits_dbm",
    "margin_db",
    "expanded_uncertainty_db",
    "outcome",
    "reason_code",
    "reason",
];

#[test]
fn the_document_is_as_it_was() {
    insta::assert_snapshot!(json(&specimen::run().view()).unwrap());
}

#[test]
fn every_reading_has_every_key() {
    let document: serde_json::Value = serde_json::from_str(&json(&specimen::run().view()).unwrap()).unwrap();
    let readings = document["readings"].as_array().unwrap();
    assert_eq!(readings.len(), 12);
    for reading in readings {
        for key in KEYS {
            assert!(reading.as_object().unwrap().contains_key(key), "{key} in {reading}");
        }
    }
    assert_eq!((&document["run"], &document["outcome"]), (&"20261125-103012-7c1e".into(), &"exceeds".into()));
}

#[test]
fn a_reading_alone_has_its_row_and_everything_behind_it() {
    let run = specimen::run();
    let rows: serde_json::Value = serde_json::from_str(&json(&run.view()).unwrap()).unwrap();
    for (row, reading) in rows["readings"].as_array().unwrap().iter().zip(&run.readings) {
        let alone: serde_json::Value = serde_json::from_str(&reading_json(reading).unwrap()).unwrap();
        for (key, value) in row.as_object().unwrap() {
            assert_eq!(&alone[key], value, "{key}");
        }
        let looks = alone["looks"].as_array().unwrap();
        assert_eq!(looks.len(), reading.acquisitions.len());
        let lines = reading.budget.as_ref().map_or(0, |budget| budget.lines.len());
        assert_eq!(alone["budget"]["lines"].as_array().map_or(0, Vec::len), lines);
        for key in ["at", "derivation", "correction", "proof", "conformance_probability", "meter"] {
            assert!(alone.get(key).is_some(), "{key}");
        }
    }
}

#[test]
fn figures_are_not_rounded() {
    let mut run = specimen::run();
    let third = 1.0 / 3.0;
    run.readings[0].figure.as_mut().unwrap().value = third;
    let document: serde_json::Value = serde_json::from_str(&json(&run.view()).unwrap()).unwrap();
    assert_eq!(document["readings"][0]["value"].as_f64(), Some(third));
}

#[test]
fn what_is_not_a_number_becomes_null() {
    let mut run = specimen::run();
    run.readings[0].figure.as_mut().unwrap().value = f64::NAN;
    let text = json(&run.view()).unwrap();
    assert!(!text.contains("NaN"));
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert!(document["readings"][0]["value"].is_null());
}

#[test]
fn what_was_wired_and_keyed_is_in_the_document() {
    let document: serde_json::Value = serde_json::from_str(&json(&specimen::run().view()).unwrap()).unwrap();
    let numbers: Vec<_> = document["readings"].as_array().unwrap().iter().map(|r| &r["number"]).collect();
    assert_eq!(numbers, (1..=12).collect::<Vec<_>>());
    assert_eq!(document["instruments"][0]["identity"]["serial"], "A-1");
    let layout = &document["layout"];
    assert_eq!(layout["common"][1]["loss_db"]["high"], 30.1);
    assert_eq!(layout["ways"][2]["switches"][0]["position"], "in");
    assert_eq!(layout["ways"][2]["used"], false);
    assert_eq!(document["key_downs"][0]["held_s"], 4.25);
    assert_eq!(document["key_downs"][0]["longest_s"], 20.0);
}
