//! Every kind of difference is seen, and a difference in time is none.

use jiff::Timestamp;
use serde_json::json;
use spurline_record::{Fault, Outcome, Sweep};

use super::*;

/// A reading as the record keeps it, with two sweeps.
fn reading() -> Reading {
    let settings = json!({
        "centre": 1e6, "span": 0.0, "rbw": 1e3, "vbw": 1e3, "points": 2, "sweep_time": 0.1, "detector": "rms",
        "attenuation": 10.0, "preamplifier": "off", "reference_level": 0.0,
    });
    let look = json!({
        "purpose": "line", "at": "2026-11-25T10:30:12Z", "keyed": true, "settings": settings, "sweeps": [],
        "marker": null, "flags": { "overload": false, "uncalibrated": false },
    });
    let scope = json!({
        "channel": "one", "carrier": 146e6, "power_setting": "high", "supply": null, "path": "through",
    });
    let mut value = json!({
        "ordinal": 1, "quantity": "carrier_power", "scope": scope, "order": null, "frequency": 146e6,
        "at": "2026-11-25T10:30:12Z", "figure": null, "limit": null,
        "derivation": { "source": "", "steps": ["first"] }, "margin": null, "conformance_probability": 0.5,
        "budget": null, "correction": null, "proof": Value::Null, "outcome": "complies", "reason": null,
        "acquisitions": [look], "meter": [],
    });
    value["proof"] = serde_json::to_value(spurline_record::Proof::default()).unwrap();
    let mut reading: Reading = serde_json::from_value(value).unwrap();
    reading.acquisitions[0].sweeps =
        vec![Sweep { levels: vec![-1.0, 0.0] }, Sweep { levels: vec![f32::NAN, -2.0] }];
    reading
}

fn changed(change: impl FnOnce(&mut Reading)) -> Vec<(String, Value, Value)> {
    let mut other = reading();
    change(&mut other);
    let found = readings(&[reading()], &[other]);
    found.into_iter().map(|d| (d.field, d.recorded, d.replayed)).collect()
}

#[test]
fn times_are_not_compared() {
    let later = Timestamp::UNIX_EPOCH;
    let found = changed(|reading| {
        reading.at = later;
        reading.acquisitions[0].at = later;
    });
    assert_eq!(found, []);
}

#[test]
fn everything_else_is_to_the_last_bit() {
    let next = f64::from_bits(0.5f64.to_bits() + 1);
    let found = changed(|reading| reading.conformance_probability = Some(next));
    assert_eq!(found, [("conformance_probability".to_owned(), json!(0.5), json!(next))]);
    let found = changed(|reading| reading.derivation.steps[0].push('!'));
    assert_eq!(found, [("derivation.steps[0]".to_owned(), json!("first"), json!("first!"))]);
    let found = changed(|reading| reading.outcome = Outcome::Exceeds);
    assert_eq!(found, [("outcome".to_owned(), json!("complies"), json!("exceeds"))]);
    let found = changed(|reading| reading.acquisitions[0].keyed = false);
    assert_eq!(found[0].0, "acquisitions[0].keyed");
}

#[test]
fn every_bit_of_a_sweep_counts() {
    let point = |place: usize, level: f32| {
        changed(|reading| reading.acquisitions[0].sweeps[place / 2].levels[place % 2] = level)
    };
    assert_eq!(point(2, f32::NAN), []);
    assert_eq!(point(1, -0.0)[0].0, "acquisitions[0].sweeps[0][1]", "minus zero is another bit");
    assert_eq!(point(2, f32::from_bits(0x7fc0_0001))[0].0, "acquisitions[0].sweeps[1][0]");
    let found = changed(|reading| reading.acquisitions[0].sweeps.truncate(1));
    assert_eq!(found, [("sweeps".to_owned(), json!(2), json!(1))]);
    let found = changed(|reading| reading.acquisitions[0].sweeps[1].levels.truncate(1));
    assert_eq!(found, [("acquisitions[0].sweeps[1]".to_owned(), json!(2), json!(1))]);
}

#[test]
fn a_reading_that_is_missing_is_told() {
    let missing = Reading { ordinal: 7, ..reading() };
    let found = readings(&[reading(), missing], &[reading()]);
    assert_eq!((found.len(), found[0].reading), (1, Some(7)));
    assert_eq!((&found[0].recorded, &found[0].replayed), (&json!("complies"), &Value::Null));
    assert_eq!(readings(&[], &[reading()])[0].recorded, Value::Null);
}

#[test]
fn endings_are_compared_by_what_failed() {
    let event = |kind| Event { sequence: 1, at: Timestamp::UNIX_EPOCH, kind };
    let fault = |cause: &str| {
        let message = "the analyser failed".to_owned();
        EventKind::Failed(Fault { instrument: None, message, causes: vec![cause.to_owned()], advice: None })
    };
    let end = |state, outcome| EventKind::RunEnded { state, outcome };
    let recorded =
        Ending::of(&[event(fault("at 192.0.2.1")), event(end(RunState::Failed, Some(Outcome::Complies)))]);
    let same =
        Ending::of(&[event(fault("elsewhere")), event(end(RunState::Failed, Some(Outcome::Complies)))]);
    assert_eq!(recorded.differs(&same), []);
    let other = Ending::of(&[event(end(RunState::Finished, None))]);
    let found = recorded.differs(&other);
    assert_eq!(found.iter().map(|d| d.field.as_str()).collect::<Vec<_>>(), ["state", "outcome", "faults"]);
    assert_eq!((&found[0].recorded, &found[0].replayed), (&json!("failed"), &json!("finished")));
}
