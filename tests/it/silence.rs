//! Silence where a unit must not transmit: what comes with the key is caught wherever it comes, and nothing else is charged.

use serde_json::Value;

use crate::bench::{Workshop, readings, shipped};

fn with(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Workshop {
    shipped(("silent", "silent"), in_plan, in_bench)
}

fn silences(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Vec<Value> {
    let mut readings = readings(&with(in_plan, in_bench));
    readings.retain(|reading| reading["quantity"] == "silence");
    assert!(!readings.is_empty());
    readings
}

fn reason(reading: &Value) -> &str {
    reading["reason"].as_str().unwrap_or_default()
}

#[test]
fn a_unit_that_stays_silent_complies() {
    for reading in silences(&[], &[]) {
        assert_eq!(
            (&reading["outcome"], &reading["bound"]),
            (&"complies".into(), &true.into()),
            "{reading:#?}"
        );
        // The threshold is what the plan leaves to the program.
        assert_eq!(reading["limit_dbm"], -36.0);
    }
}

/// 4.7 W are 36.7 dBm.
#[test]
fn a_carrier_at_the_commanded_frequency_exceeds() {
    let found = silences(&[], &[("\"50 MHz..54 MHz\", ", "")]);
    let level = found[0]["level_dbm"].as_f64().unwrap();
    assert_eq!((&found[0]["outcome"], &found[0]["reason_code"]), (&"exceeds".into(), &"transmits".into()));
    assert!((level - 36.72).abs() < found[0]["expanded_uncertainty_db"].as_f64().unwrap(), "{level} dBm");
    assert_eq!(found[1]["outcome"], "complies");
}

/// A unit that refuses the frequency and transmits where it was is not silent.
#[test]
fn a_refusal_is_no_silence() {
    let found =
        silences(&[], &[("range: 30 MHz..500 MHz", "range: 130 MHz..500 MHz"), ("\"222 MHz..225 MHz\"", "")]);
    assert_eq!(found[0]["outcome"], "exceeds", "{:#?}", found[0]);
    assert!(
        reason(&found[0]).contains("on the channel `VHF`") && reason(&found[0]).contains("refused"),
        "{}",
        reason(&found[0])
    );
    let frequency = found[0]["frequency_hz"].as_f64().unwrap();
    assert!((frequency - 145e6).abs() < 25e3, "{frequency}");
}

/// The two inhibits of the bench leak in turn: the carrier comes where the unit was tuned before, or elsewhere.
#[test]
fn an_inhibit_that_leaks_is_caught_wherever_the_carrier_comes() {
    for (comes, where_it_is, on) in [
        ("comes_at: last", 145e6, "on the channel `VHF`"),
        ("comes_at: 151 MHz", 151e6, "came instead at 151"),
        ("lets_through: 50 dB", 50.5e6, "where the unit must be silent"),
    ] {
        let leaking = format!("{{ range: 50 MHz..54 MHz, {comes} }}, ");
        let found = silences(&[], &[("\"50 MHz..54 MHz\", ", &leaking)]);
        assert_eq!(found[0]["outcome"], "exceeds", "{comes}: {:#?}", found[0]);
        let frequency = found[0]["frequency_hz"].as_f64().unwrap();
        assert!((frequency - where_it_is).abs() < 25e3, "{comes}: {frequency} Hz");
        assert!(reason(&found[0]).contains(on), "{comes}: {}", reason(&found[0]));
        assert_eq!(found[1]["outcome"], "complies");
    }
}

/// No band holds it: the power meter, which knows no frequency, sees that something came.
#[test]
fn a_carrier_outside_every_band_is_seen_by_the_meter() {
    let leaking = "{ range: 50 MHz..54 MHz, comes_at: 440 MHz }, ";
    let found = silences(&[], &[("\"50 MHz..54 MHz\", ", leaking)]);
    assert_eq!(found[0]["outcome"], "exceeds", "{:#?}", found[0]);
    assert!(reason(&found[0]).contains("at another frequency"), "{}", reason(&found[0]));
}

/// What is on the air with the key up as well is not the unit's; above the threshold it hides what the unit emits there.
#[test]
fn a_line_on_the_air_is_never_charged() {
    for (level, outcome) in [("-75 dBm", "complies"), ("-60 dBm", "undecided")] {
        let found = silences(&[], &[("level: -75 dBm", &format!("level: {level}"))]);
        assert_eq!(found[0]["outcome"], outcome, "{:#?}", found[0]);
        if outcome == "undecided" {
            assert_eq!(found[0]["reason_code"], "ambient");
        }
    }
}

#[test]
fn what_could_never_be_keyed_safely_is_refused_before_anything_is_keyed() {
    let refused = |in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]| {
        let called = with(in_plan, in_bench).call(&["check", "plan.yaml"]);
        assert_eq!(called.exit, 2, "{called:?}");
        called.talk
    };
    let distress = refused(&[("50.5 MHz", "121.5 MHz")], &[]);
    assert!(distress.contains("121.5 MHz") && distress.contains("distress"), "{distress}");
    let no_load = [
        (
            "silence_into_load: true            # the pad bears the unit's power at every frequency; without this its loss must say so",
            "",
        ),
        ("attenuator: 30 dB", "attenuator: 6 dB"),
    ];
    let open = refused(&[], &no_load);
    assert!(open.contains("into what may be no load"), "{open}");
}

/// A batch: one unit that is locked and one that is not.
#[test]
fn the_lock_down_report_tells_the_batch() {
    let workshop = with(&[], &[]);
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 0);
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write(
        "bench.yaml",
        &bench.replace("serial: U-1", "serial: U-2").replace("\"50 MHz..54 MHz\", ", ""),
    );
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 1);
    let runs = workshop.call(&["runs", "--json"]).json();
    let ids: Vec<&str> =
        runs["runs"].as_array().unwrap().iter().map(|run| run["run"].as_str().unwrap()).collect();
    let report = |more: &[&str]| workshop.call(&[&["lockdown"], ids.as_slice(), more].concat());
    let markdown = report(&[]);
    assert_eq!(markdown.exit, 1);
    assert!(markdown.out.contains("2 units, 4 readings: exceeds"), "{}", markdown.out);
    let document = report(&["--format", "json"]).json();
    let rows: Vec<(&str, f64, &str)> = document["readings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let text = |key: &str| row[key].as_str().unwrap();
            (text("serial"), row["frequency_hz"].as_f64().unwrap(), text("outcome"))
        })
        .collect();
    assert_eq!(
        rows,
        [
            ("U-1", 50.5e6, "complies"),
            ("U-1", 223.5e6, "complies"),
            ("U-2", 50.5e6, "exceeds"),
            ("U-2", 223.5e6, "complies"),
        ]
    );
    assert_eq!(report(&["--format", "csv"]).out.lines().count(), 5);
    // The last run is that of the unit that is not locked, the other alone is good.
    assert_eq!(workshop.call(&["lockdown", "last"]).exit, 1);
    assert_eq!(workshop.call(&["lockdown", ids[1]]).exit, 0);
}

/// A unit that was tried at fewer frequencies than the others is not shown to be locked there.
#[test]
fn a_frequency_that_a_unit_was_not_tried_at_is_told() {
    let workshop = with(&[], &[]);
    workshop.call(&["run", "plan.yaml"]);
    let text = |name: &str| std::fs::read_to_string(workshop.path(name)).unwrap();
    workshop.write("bench.yaml", &text("bench.yaml").replace("serial: U-1", "serial: U-2"));
    workshop
        .write("plan.yaml", &text("plan.yaml").replace("at: [ 50.5 MHz, 223.5 MHz ]", "at: [ 50.5 MHz ]"));
    workshop.call(&["run", "plan.yaml"]);
    let runs = workshop.call(&["runs", "--json"]).json();
    let ids: Vec<&str> =
        runs["runs"].as_array().unwrap().iter().map(|run| run["run"].as_str().unwrap()).collect();
    let report = workshop.call(&[&["lockdown"], ids.as_slice()].concat());
    assert_eq!(report.exit, 3, "{report:?}");
    assert!(report.out.contains("unit U-2 was not tried at 223.5000 MHz"), "{}", report.out);
    assert!(report.out.contains("3 readings: undecided"), "{}", report.out);
}

/// A line that is let pass does not end the looking: everything else is still looked at, and the line is told.
#[test]
fn what_is_let_pass_is_told_and_hides_nothing() {
    let let_through = ("\"50 MHz..54 MHz\", ", "{ range: 50 MHz..54 MHz, lets_through: 45 dB }, ");
    for (threshold, outcome) in [("-5 dBm", "complies"), ("-13 dBm", "exceeds")] {
        let found = silences(&[("threshold: -36 dBm", &format!("threshold: {threshold}"))], &[let_through]);
        assert_eq!(found[0]["outcome"], outcome, "{threshold}: {:#?}", found[0]);
        let remarks = found[0]["remarks"].to_string();
        assert_eq!(remarks.contains("came with the key at 5"), outcome == "complies", "{remarks}");
    }
}

/// 36.72 dBm less 70 dB: too weak for the look through the attenuator, found by the deep one, and once more on another
/// key-down.
#[test]
fn a_weak_leak_is_found_and_confirmed() {
    let let_through = ("\"50 MHz..54 MHz\", ", "{ range: 50 MHz..54 MHz, lets_through: 70 dB }, ");
    let found = silences(&[], &[let_through]);
    assert_eq!((&found[0]["outcome"], &found[0]["reason_code"]), (&"exceeds".into(), &"transmits".into()));
    let level = found[0]["level_dbm"].as_f64().unwrap();
    assert!((level + 33.28).abs() < 1.5, "{level} dBm");
}
