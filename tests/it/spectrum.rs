//! What a run says of the carrier's own spectrum: widths, place, mask and the channels beside it.

use serde_json::Value;

use crate::bench::{Workshop, root};

/// The shipped plan and bench with something replaced in each, run.
fn run(in_plan: (&str, &str), in_bench: (&str, &str)) -> Vec<Value> {
    run_of("modulated-qualification", &[in_plan], in_bench)
}

/// The same of any plan for that bench.
fn run_of(plan: &str, in_plan: &[(&str, &str)], in_bench: (&str, &str)) -> Vec<Value> {
    let workshop = workshop(plan, in_plan, in_bench);
    workshop.call(&["run", "plan.yaml", "--json"]).json()["readings"].as_array().unwrap().clone()
}

/// One reading of it, with everything behind it.
fn reading_of(plan: &str, in_plan: &[(&str, &str)], in_bench: (&str, &str), quantity: &str) -> Value {
    let workshop = workshop(plan, in_plan, in_bench);
    let run = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let number = of(run["readings"].as_array().unwrap(), quantity)["number"].to_string();
    workshop.call(&["show", "last", "--reading", &number, "--json"]).json()
}

fn workshop(plan: &str, in_plan: &[(&str, &str)], in_bench: (&str, &str)) -> Workshop {
    let shipped = |name: &str| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let replaced = |text: String, (from, to): &(&str, &str)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    };
    let plan = shipped(&format!("plans/{plan}.yaml")).replace("../benches/modulated.yaml", "bench.yaml");
    let paths = root().join("config/paths");
    let bench = shipped("benches/modulated.yaml").replace("../paths", paths.to_str().unwrap());
    let plan = in_plan.iter().fold(plan, replaced);
    Workshop::with(&plan, &replaced(bench, &in_bench))
}

/// How the shipped plan names its band.
const TABLE: &str = "band: { table: us-amateur, region: 2, use: phone }";
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
    let readings = run((TABLE, "band: 144.198 MHz..148 MHz"), BENCH_AS_IT_IS);
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

/// What a plan for a land mobile channel reads with something replaced in it, the carrier so far off its channel.
fn off_channel(in_plan: &[(&str, &str)], off: &str) -> Value {
    let unit = format!("off_channel: {off}\n      modulation:");
    reading_of("land-mobile", in_plan, ("modulation:", &unit), "frequency_error")
}

fn steps(reading: &Value) -> String {
    reading["derivation"]["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| step.as_str().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

/// 47 CFR 90.213, 150 to 174 MHz, mobile stations of 12.5 kHz channels: 5.0 ppm, which is 775 Hz at 155 MHz.
#[test]
fn a_carrier_is_held_against_the_tolerance_of_a_rule() {
    for (off, outcome) in [("500 Hz", "complies"), ("1 kHz", "exceeds")] {
        let reading = off_channel(&[], off);
        assert_eq!(
            (&reading["outcome"], number(&reading["limit_high"])),
            (&outcome.into(), 775.0),
            "{reading:#?}"
        );
        assert_eq!(number(&reading["limit_low"]), -775.0);
        assert_eq!(reading["derivation"]["source"], "47 CFR 90.213");
        let steps = steps(&reading);
        assert!(
            steps.contains("rule us-part-90-stability: 47 CFR 90.213") && steps.contains("5 ppm of 155 MHz")
        );
        // The unit's rated power was not written twice.
        assert!(!steps.contains("not given"), "{steps}");
    }
}

/// Of mobile stations a channel of 6.25 kHz has 2.0 ppm, 310 Hz, and one of 12.5 kHz 5.0 ppm, 775 Hz: what complies by
/// the one and not by the other is not decided, what exceeds by every one is.
#[test]
fn a_fact_that_is_missing_is_asked_for() {
    let silent: &[(&str, &str)] = &[(", facts: { channel_width: 12.5 kHz }", "")];
    let reading = off_channel(silent, "500 Hz");
    assert_eq!((&reading["outcome"], &reading["reason_code"]), (&"undecided".into(), &"fact-missing".into()));
    assert!(reading["reason"].as_str().unwrap().contains("channel_width"), "{reading:#?}");
    assert_eq!(off_channel(silent, "1 kHz")["outcome"], "exceeds");
    assert_eq!(off_channel(silent, "100 Hz")["outcome"], "complies");
}

/// The table of 47 CFR 90.213 has no band between 76 and 150 MHz.
#[test]
fn a_rule_without_a_tolerance_for_this_carrier_is_no_pass() {
    let elsewhere =
        [("carrier: 155 MHz", "carrier: 145 MHz"), ("band: 150 MHz..174 MHz", "band: 144..148 MHz")];
    let reading = off_channel(&elsewhere, "10 Hz");
    assert_eq!(
        (&reading["outcome"], &reading["reason_code"]),
        (&"no limit".into(), &"no-numeric-limit".into())
    );
}

/// The accuracy of GMRS between the repeater inputs is remembered and was read nowhere: the outcome says so.
#[test]
fn a_tolerance_that_nobody_read_is_marked() {
    let gmrs = [
        ("carrier: 155 MHz", "carrier: 467.5625 MHz"),
        ("band: 150 MHz..174 MHz", "band: 467..468 MHz"),
        (
            "us-part-90-stability, facts: { channel_width: 12.5 kHz }",
            "us-part-95-stability, facts: { service: gmrs }",
        ),
    ];
    let reading = off_channel(&gmrs, "10 Hz");
    assert_eq!(reading["derivation"]["source"], "47 CFR 95.1765");
    let steps = steps(&reading);
    assert!(steps.contains("rule text not verified: 47 CFR 95.1765 is from-memory"), "{steps}");
}

/// What the program says of a plan that it refuses.
fn refused(in_plan: &[(&str, &str)]) -> String {
    let said = workshop("land-mobile", in_plan, BENCH_AS_IT_IS).call(&["check", "plan.yaml"]);
    assert_ne!(said.exit, 0);
    said.talk
}

#[test]
fn a_rule_stands_where_it_has_something_to_say() {
    let said = refused(&[("us-part-90-stability", "us-part-90-stabilty")]);
    assert!(
        said.contains("there is no rule `us-part-90-stabilty`") && said.contains("did you mean"),
        "{said}"
    );
    let said = refused(&[("us-part-90-stability, facts: { channel_width: 12.5 kHz }", "us-part-97")]);
    assert!(
        said.contains("expected a rule with tolerances of the carrier's frequency, found `us-part-97`"),
        "{said}"
    );
    assert!(said.contains("plan.yaml:17") && said.contains("within: 2.5 ppm"), "{said}");
    let said = refused(&[("rule: us-part-90\n", "rule: us-part-90-stability\n")]);
    assert!(said.contains("expected a rule that limits emissions, found `us-part-90-stability`"), "{said}");
    assert!(said.contains("plan.yaml:5") && said.contains("measure: { frequency: { rule:"), "{said}");
    let said = refused(&[("band: 150 MHz..174 MHz", "band: { table: us-amature }")]);
    assert!(said.contains("there is no band plan `us-amature`"), "{said}");
}

/// 47 CFR 97.305: from 144.0 to 144.1 MHz a keyed carrier alone; the emission is about 8 kHz wide.
#[test]
fn an_emission_is_held_against_a_table_of_bands() {
    let at = |carrier: &str, table: &str| {
        let changes = [("144.2 MHz", carrier), (TABLE, table)];
        reading_of("modulated-qualification", &changes, BENCH_AS_IT_IS, "band")
    };
    let outcome = |carrier: &str, table: &str| at(carrier, table)["outcome"].clone();
    let reading = at("144.12 MHz", TABLE);
    assert_eq!(
        (&reading["outcome"], number(&reading["limit_low"])),
        (&"complies".into(), 144.1e6),
        "{reading:#?}"
    );
    assert!(reading["derivation"]["source"].as_str().unwrap().starts_with("47 CFR 97.301"));
    assert!(steps(&reading).contains("bands us-amateur"));
    // Of an edge half of the width lies beyond it.
    assert_eq!(outcome("144.1 MHz", TABLE), "exceeds");
    assert_eq!(outcome("144.05 MHz", TABLE), "exceeds");
    let cw = "band: { table: us-amateur, region: 2, use: cw }";
    assert_eq!(outcome("144.05 MHz", cw), "complies");
    let designated = "band: { table: us-amateur, region: 2, emission: 8K00F3E }";
    assert_eq!(outcome("144.05 MHz", designated), "exceeds");
    // In the middle of the band neither region nor use matters, below 144.1 MHz the use does.
    assert_eq!(outcome("145 MHz", "band: { table: us-amateur }"), "complies");
    let reading = at("144.05 MHz", "band: { table: us-amateur, region: 2 }");
    assert_eq!((&reading["outcome"], &reading["reason_code"]), (&"undecided".into(), &"fact-missing".into()));
    assert!(reading["reason"].as_str().unwrap().ends_with("needs to know: use"), "{reading:#?}");
}

/// The power of the carrier is always measured; nothing else need be.
#[test]
fn a_plan_may_measure_no_harmonics() {
    let readings = run_of("land-mobile", &[], BENCH_AS_IT_IS);
    let quantities: Vec<&str> =
        readings.iter().map(|reading| reading["quantity"].as_str().unwrap()).collect();
    assert_eq!(quantities, ["carrier_power", "occupied_bandwidth", "frequency_error", "band"]);
    for reading in &readings {
        assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    }
    let plan = std::fs::read_to_string(root().join("config/plans/land-mobile.yaml")).unwrap();
    let rest = &plan[plan.find("measure:\n").unwrap()..];
    let readings = run_of("land-mobile", &[(rest, "measure: {}\n")], BENCH_AS_IT_IS);
    assert_eq!(readings.len(), 1, "{readings:#?}");
    assert_eq!(readings[0]["quantity"], "carrier_power");
}
