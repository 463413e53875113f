//! What a run says of the carrier's own spectrum: widths, place, mask and the channels beside it.

use serde_json::Value;

use crate::bench::{Workshop, root};

/// The shipped plan and bench with something replaced in each, run.
fn run(in_plan: (&str, &str), in_bench: (&str, &str)) -> Vec<Value> {
    let shipped = |name: &str| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let replaced = |text: String, (from, to): (&str, &str)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    };
    let plan =
        shipped("plans/modulated-qualification.yaml").replace("../benches/modulated.yaml", "bench.yaml");
    let paths = root().join("config/paths");
    let bench = shipped("benches/modulated.yaml").replace("../paths", paths.to_str().unwrap());
    let workshop = Workshop::with(&replaced(plan, in_plan), &replaced(bench, in_bench));
    workshop.call(&["run", "plan.yaml", "--json"]).json()["readings"].as_array().unwrap().clone()
}

const AS_IT_IS: (&str, &str) = ("plan:", "plan:");
const BENCH_AS_IT_IS: (&str, &str) = ("bench:", "bench:");

#[track_caller]
fn of<'r>(readings: &'r [Value], quantity: &str) -> &'r Value {
    let found = readings.iter().find(|reading| reading["quantity"] == quantity);
    found.unwrap_or_else(|| panic!("no {quantity} in {readings:#?}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// numpy 2.4.6 and scipy 1.17.1: 1 kHz of tone with 2.5 kHz of deviation seen through a Gaussian filter of 100 Hz holds
/// 99 % of its power in 7912 Hz, and is 8176 Hz wide 26 dB down.
#[test]
fn a_clean_unit_with_a_tone_complies_in_everything() {
    let readings = run(AS_IT_IS, BENCH_AS_IT_IS);
    for reading in &readings {
        assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    }
    for (quantity, width) in [("occupied_bandwidth", 7912.4), ("x_db_bandwidth", 8175.9)] {
        let reading = of(&readings, quantity);
        let off = number(&reading["value"]) - width;
        assert!(off.abs() < number(&reading["expanded_uncertainty_hz"]), "{quantity}: {off} Hz");
    }
    let beside = readings.iter().filter(|reading| reading["quantity"] == "adjacent_channel_power").count();
    assert_eq!(beside, 2);
}

/// A silent carrier always looks narrow: nothing that goes by its width is decided without modulation.
#[test]
fn without_modulation_no_width_is_decided() {
    let silent = ("modulation: { tone: { deviation: 2.5 kHz, frequency: 1 kHz } }", "modulation: none");
    let readings = run(silent, ("modulation:", "off_channel: 0 Hz # modulation:"));
    for quantity in
        ["occupied_bandwidth", "x_db_bandwidth", "emission_mask", "adjacent_channel_power", "band"]
    {
        let reading = of(&readings, quantity);
        assert_eq!(
            (&reading["outcome"], &reading["reason_code"]),
            (&"undecided".into(), &"no-modulation".into())
        );
    }
    for quantity in ["frequency_error", "channel_power"] {
        assert_eq!(of(&readings, quantity)["outcome"], "complies", "{quantity}");
    }
}

/// 2.5 ppm of 144.2 MHz are 360.5 Hz.
#[test]
fn a_carrier_beyond_its_tolerance_exceeds() {
    for (off, outcome) in [("1 kHz", "exceeds"), ("200 Hz", "complies")] {
        let unit = format!("off_channel: {off}\n      modulation:");
        let readings = run(AS_IT_IS, ("modulation:", &unit));
        let reading = of(&readings, "frequency_error");
        assert_eq!(reading["outcome"], outcome, "{reading:#?}");
        let error = number(&reading["value"]) - if off == "1 kHz" { 1000.0 } else { 200.0 };
        assert!(error.abs() < number(&reading["expanded_uncertainty_hz"]), "{error} Hz");
    }
}

/// The same emission in a channel of half the width.
#[test]
fn a_width_above_its_limit_exceeds() {
    let readings = run(("at_most: 11.25 kHz", "at_most: 6 kHz"), BENCH_AS_IT_IS);
    let reading = of(&readings, "occupied_bandwidth");
    assert_eq!((&reading["outcome"], number(&reading["limit_high"])), (&"exceeds".into(), 6e3));
    let readings = run(("band: 144 MHz..148 MHz", "band: 144.198 MHz..148 MHz"), BENCH_AS_IT_IS);
    assert_eq!(of(&readings, "band")["outcome"], "exceeds");
}

/// A line 50 dB below the carrier in the upper channel, where 60 dB are asked for: of the unit it exceeds, of somebody
/// else it is not charged to the unit, and hides what the unit puts there.
#[test]
fn what_is_there_without_the_key_is_not_charged_to_the_unit() {
    let side = |readings: &[Value], name: &str| {
        readings.iter().find(|reading| reading["name"] == name).unwrap().clone()
    };
    let of_the_unit =
        ("modulation: { fm:", "spurs: [ { offset: 12.5 kHz, below: 50 dB } ]\n      modulation: { fm:");
    let readings = run(AS_IT_IS, of_the_unit);
    for name in ["lower adjacent channel", "upper adjacent channel"] {
        assert_eq!(side(&readings, name)["outcome"], "exceeds");
    }
    let of_another = ("frequency: 295.6 MHz, level: -88 dBm", "frequency: 144.2125 MHz, level: -50.5 dBm");
    let readings = run(AS_IT_IS, of_another);
    let upper = side(&readings, "upper adjacent channel");
    for reading in [of(&readings, "emission_mask"), &upper] {
        let (outcome, code) = (&reading["outcome"], &reading["reason_code"]);
        assert_eq!((outcome, code), (&"undecided".into(), &"ambient".into()), "{reading:#?}");
    }
    assert_eq!(side(&readings, "lower adjacent channel")["outcome"], "complies");
}
