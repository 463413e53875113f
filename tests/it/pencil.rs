//! Every reading can be redone from what `show` gives of it: from the raw points to the outcome.

use serde_json::Value;

use crate::bench::{Workshop, root};

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is not a number"))
}

fn mean_power(levels: &[f64]) -> f64 {
    let sum: f64 = levels.iter().map(|level| 10f64.powf(level / 10.0)).sum();
    10.0 * (sum / levels.len() as f64).log10()
}

/// What the instruments showed, as the record has it raw.
fn raw(reading: &Value) -> Vec<f64> {
    let of_meter = reading["meter"].as_array().unwrap();
    if !of_meter.is_empty() {
        return of_meter.iter().map(|shown| number(&shown["level_dbm"])).collect();
    }
    let whole = |key: &str| reading["proof"][key].as_u64().unwrap() as usize;
    let (point, reach) = (whole("peak_point"), whole("peak_reach"));
    let look = &reading["looks"].as_array().unwrap()[whole("read_from") - 1];
    let sweeps = look["sweeps_dbm"].as_array().unwrap();
    let near = |sweep: &Value| -> Vec<f64> {
        let levels = sweep.as_array().unwrap();
        let last = (point + reach).min(levels.len() - 1);
        levels[point.saturating_sub(reach)..=last].iter().map(number).collect()
    };
    sweeps.iter().map(|sweep| mean_power(&near(sweep))).collect()
}

/// Level at the connector by the sum of the parts. Only an upper bound may hold more.
fn redo_level(reading: &Value) -> f64 {
    let correction = &reading["correction"];
    let shown = mean_power(&raw(reading));
    assert!((shown - number(&correction["raw_dbm"])).abs() < 1e-6, "{shown} {correction}");
    let path: f64 = correction["path"].as_array().unwrap().iter().map(|part| number(&part["loss_db"])).sum();
    shown - number(&correction["noise_db"]) + path
}

/// Two, or Student's factor for the effective degrees of freedom after Welch and Satterthwaite, of which every table of t
/// has some for 95 %.
fn factor(budget: &Value) -> f64 {
    let factor = number(&budget["coverage_factor"]);
    let lines = budget["lines"].as_array().unwrap();
    let fourth = |line: &Value| number(&line["standard_db"]).powi(4);
    let limited: f64 = lines
        .iter()
        .filter(|line| line["freedom"].is_number())
        .map(|line| fourth(line) / number(&line["freedom"]))
        .sum();
    let freedom = number(&budget["combined_db"]).powi(4) / limited;
    match budget["method"].as_str().unwrap() {
        "normal" => assert!(factor == 2.0 && (limited == 0.0 || freedom >= 60.0), "{budget}"),
        "student" => {
            // Degrees of freedom, and the factor that belongs to them (any table of t, 0.975).
            let table = [
                (4.0, 2.776),
                (5.0, 2.571),
                (6.0, 2.447),
                (8.0, 2.306),
                (10.0, 2.228),
                (15.0, 2.131),
                (30.0, 2.042),
                (60.0, 2.0),
            ];
            let place = table.iter().position(|(known, _)| *known >= freedom).unwrap();
            let (most, least) = (table[place.saturating_sub(1)].1, table[place].1);
            assert!((least - 1e-3..=most + 1e-3).contains(&factor), "{factor} {freedom}");
        }
        other => assert_eq!(other, "convolution"),
    }
    factor
}

fn redo_uncertainty(reading: &Value) -> f64 {
    let lines = reading["budget"]["lines"].as_array().unwrap();
    assert!(lines.iter().all(|line| !line["source"].as_str().unwrap().is_empty()), "{reading}");
    factor(&reading["budget"])
        * lines.iter().map(|line| number(&line["standard_db"]).powi(2)).sum::<f64>().sqrt()
}

/// The guard band as it is stated: complies at level + U up to the limit, exceeds at level - U above it.
fn redo_outcome(reading: &Value, level: f64, expanded: f64) -> &'static str {
    let dbm = |watts: &Value| 10.0 * number(watts).log10() + 30.0;
    let (low, high) = match &reading["limit_dbm"] {
        Value::Null => (dbm(&reading["limit_low"]), dbm(&reading["limit_high"])),
        limit => (f64::NEG_INFINITY, number(limit)),
    };
    if level + expanded <= high && level - expanded >= low {
        "complies"
    } else if !reading["bound"].as_bool().unwrap() && (level - expanded > high || level + expanded < low) {
        "exceeds"
    } else {
        "undecided"
    }
}

fn redo_all(plan: &str) -> usize {
    let workshop = Workshop::new();
    let path = root().join("config/plans").join(plan);
    let document = workshop.call(&["run", path.to_str().unwrap(), "--json"]).json();
    let readings = document["readings"].as_array().unwrap();
    for row in readings {
        let number_of = row["number"].to_string();
        let called = workshop.call(&["show", "last", "--reading", &number_of, "--json"]);
        let reading = called.json();
        let level = redo_level(&reading);
        let stated = number(&reading["level_dbm"]);
        if reading["bound"].as_bool().unwrap() {
            assert!(stated >= level - 1e-6, "{reading}");
        } else {
            assert!((stated - level).abs() < 1e-6, "{stated} {level}");
        }
        let expanded = redo_uncertainty(&reading);
        assert!((expanded - number(&row["expanded_uncertainty_db"])).abs() < 1e-9);
        assert_eq!(redo_outcome(&reading, stated, expanded), row["outcome"], "{row}");
        // The sheet for people holds the same figures; every fifth is looked at.
        if row["number"].as_u64().unwrap() % 5 != 1 {
            continue;
        }
        let sheet = workshop.call(&["show", "last", "--reading", &number_of]).out;
        for figure in [format!("{stated:.3} dBm"), format!("{expanded:.3} dB")] {
            assert!(sheet.contains(&figure), "{figure} is not in\n{sheet}");
        }
        assert!(sheet.lines().all(|line| line.chars().count() <= 80), "{sheet}");
    }
    readings.len()
}

#[test]
fn every_reading_of_the_demonstration_can_be_redone() {
    assert_eq!(redo_all("demo.yaml"), 30);
}

#[test]
fn so_can_those_of_an_analyser_alone() {
    assert_eq!(redo_all("analyser-alone.yaml"), 10);
}
