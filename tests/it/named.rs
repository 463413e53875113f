//! What is not the unit's harmonic is called by its name, and never charged to the unit.

use serde_json::Value;

use crate::bench::{Workshop, instruments, plan, root};

/// A supply, a switch that puts the unit on a load, and a unit whose second harmonic is where `below` says.
fn bench(unit: &str, around: &str, second: &str) -> String {
    format!(
        "{}supply: {{ at: \"TCPIP::127.0.0.1::25030::SOCKET\", profile: supply-generic }}
relays:
  load: {{ at: \"TCPIP::127.0.0.1::25031::SOCKET\", profile: relay-generic, positions: {{ to path: [], to load: [ 4 ] }} }}
common: [ {{ attenuator: 30 dB, over: 1 MHz..3.2 GHz, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 }} ]
branches:
  analyser: [ {{ attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: splitter, vswr: 1.1 }} ]
  power_meter: [ {{ attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 }} ]
paths:
  through: {{ branch: analyser, set: {{ load: to path }} }}
  leaks:
    branch: analyser
    set: {{ load: to load }}
    insert: [ {{ attenuator: 120 dB, over: 1 MHz..3.2 GHz, uncertainty: 3 dB, name: isolation }} ]
    unit: into-load
simulated:
  seed: 5
  units:
    - serial: U-1
      model: FH-2
      firmware: 1.0
      range: 130 MHz..500 MHz
      powers: {{ high: 4.7 W }}
      harmonics: {{ 2: {second}, 3: 66 dB }}
      vswr: 1.3
      vswr_off_carrier: 4
{unit}
  analyser: {{ identity: {{ maker: Example, model: Analyser, serial: A-0001, firmware: 1.0 }} }}
  power_meter: {{}}
  supply: {{}}
  relay: {{}}
  switch: {{ channels: 8 }}
  path:
    common: [ {{ name: pad, pad: 30 dB, vswr: 1.1 }} ]
    analyser: [ {{ name: isolation, pad: 120 dB, in_while_closed: 4 }}, {{ name: splitter, pad: 6 dB, vswr: 1.1 }} ]
    power_meter: [ {{ name: other, pad: 6 dB, vswr: 1.1 }} ]
{around}",
        instruments(25_025, "A-0001")
    )
}

fn readings(unit: &str, around: &str, second: &str) -> Vec<Value> {
    let plan = plan("146 MHz", 3);
    let plan = format!(
        "{plan}supply: [ {{ name: external, set: 7.4 V, limit: 2.5 A }} ]\nuse: {{ carrier: through, harmonics: through, leaks: leaks }}\n"
    );
    let called = Workshop::with(&plan, &bench(unit, around, second)).call(&["run", "plan.yaml", "--json"]);
    let document = called.json();
    document["readings"].as_array().unwrap_or_else(|| panic!("{called:?}")).clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn second(unit: &str, around: &str) -> Value {
    let all = readings(unit, around, "62 dB");
    all.into_iter().find(|reading| reading["order"] == 2).unwrap()
}

fn is_named(reading: &Value, code: &str, words: &str) {
    assert_eq!(reading["outcome"], "invalid", "{reading}");
    assert_eq!(reading["reason_code"], code, "{reading}");
    assert!(reading["reason"].as_str().unwrap().contains(words), "{reading}");
}

#[test]
fn a_clean_unit_complies() {
    assert_eq!(second("", "")["outcome"], "complies");
}

/// -16 dBm is the limit: 36.7 dBm less 50 dB is beyond it. It is the unit's, and no leak.
#[test]
fn what_is_the_unit_s_is_charged_to_it() {
    let all = readings("", "", "48 dB");
    let second = all.iter().find(|reading| reading["order"] == 2).unwrap();
    assert_eq!(second["outcome"], "exceeds", "{second}");
    assert!(second["remarks"][0].as_str().unwrap().contains("looked for leaks"), "{second}");
}

#[test]
fn a_transmitter_on_the_air_is_named() {
    let reading = second("", "  ambient: [ { frequency: 292 MHz, level: -50 dBm } ]");
    is_named(&reading, "ambient", "even with the unit off");
}

/// It comes after the unkeyed looks, and is still there after key up.
#[test]
fn a_transmitter_that_came_meanwhile_is_named() {
    let reading = second("", "  ambient: [ { frequency: 292 MHz, level: -50 dBm, from: 4 s } ]");
    assert!(matches!(reading["reason_code"].as_str(), Some("ambient")), "{reading}");
    assert_eq!(reading["outcome"], "invalid", "{reading}");
}

#[test]
fn the_unit_s_own_receiver_is_named() {
    // The harmonic exceeds; what is there while the unit receives might be a part of it.
    let unit = "      receiver: [ { frequency: 292 MHz, level: -12 dBm } ]";
    let all = readings(unit, "", "50 dB");
    let reading = all.iter().find(|reading| reading["order"] == 2).unwrap();
    is_named(reading, "receiver", "its receiver makes it");
}

#[test]
fn a_leak_behind_the_pad_is_named() {
    let reading = second("", "  leak: { below: 80 dB, harmonics: { 2: 0 dB } }");
    is_named(&reading, "leak", "leaks to the analyser behind the pad");
}

#[test]
fn a_carrier_that_droops_is_named() {
    is_named(&second("      droop: { by: 2 dB, within: 4 s }", ""), "carrier-not-constant", "fell by");
}

#[test]
fn a_unit_that_dies_is_named() {
    is_named(
        &second("      dies_after: 1.8 s", ""),
        "carrier-not-constant",
        "left while its harmonics were read",
    );
    is_named(
        &second("      time_out: 1.8 s", ""),
        "carrier-not-constant",
        "left while its harmonics were read",
    );
}

#[test]
fn a_burst_that_nobody_spoke_of_is_named() {
    let reading = &readings("      modulation: { burst: { on: 30 ms, period: 60 ms } }", "", "62 dB")[0];
    is_named(reading, "carrier-not-constant", "burst");
}

/// The shipped plan for bursts: 4.7 W in each, half of the time, by a meter that shows the mean. The same plan on a bench
/// whose carrier does not come and go is told so.
#[test]
fn declared_bursts_have_their_own_power() {
    let plan = root().join("config/plans/modulated-burst.yaml").display().to_string();
    let run = |more: &[&str]| {
        let arguments = [&["run", plan.as_str(), "--json"], more].concat();
        let called = Workshop::with("", "").call(&arguments);
        called.json()["readings"].as_array().unwrap_or_else(|| panic!("{called:?}")).clone()
    };
    let readings = run(&[]);
    assert!(readings.iter().all(|reading| reading["outcome"] == "complies"), "{readings:#?}");
    let (level, expanded) =
        (number(&readings[0]["level_dbm"]), number(&readings[0]["expanded_uncertainty_db"]));
    let due = 10.0 * 4700f64.log10();
    assert!(
        (level - due).abs() <= expanded && expanded < 1.0,
        "{level} dBm, {due} dBm are due, U = {expanded} dB"
    );
    let demo = root().join("config/benches/demo.yaml").display().to_string();
    is_named(&run(&["--bench", &demo])[0], "carrier-not-constant", "there all the time");
}

/// A modulation that makes every harmonic wider than a narrow filter hides none of its power: 3 dB beyond the limit never
/// complies, whether the plan speaks of the modulation or not.
#[test]
fn a_modulated_carrier_does_not_hide_its_harmonics() {
    let unit = "      modulation: { fm: { deviation: 5 kHz, tone: 2.5 kHz } }";
    // 4.7 W is 36.72 dBm; 49.72 dB less is 3 dB beyond -16 dBm.
    let second = (2..=10).map(|order| format!("{order}: 49.72 dB")).collect::<Vec<_>>().join(", ");
    let bench = bench(unit, "", "49.72 dB").replace("{ 2: 49.72 dB, 3: 66 dB }", &format!("{{ {second} }}"));
    for modulation in ["none", "{ tone: { deviation: 5 kHz, frequency: 2.5 kHz } }"] {
        let plan = format!(
            "{}supply: [ {{ name: external, set: 7.4 V, limit: 2.5 A }} ]\nuse: {{ carrier: through, harmonics: through }}\nmodulation: {modulation}\n",
            plan("146 MHz", 10)
        );
        let called = Workshop::with(&plan, &bench).call(&["run", "plan.yaml", "--json"]);
        let document = called.json();
        let all = document["readings"].as_array().unwrap_or_else(|| panic!("{called:?}"));
        assert_eq!(all.len(), 10, "{called:?}");
        assert_eq!(all[0]["outcome"], "complies", "{}", all[0]);
        for harmonic in &all[1..] {
            assert_ne!(harmonic["outcome"], "complies", "{modulation}: {harmonic}");
        }
        assert!(
            all[1..5].iter().all(|harmonic| harmonic["outcome"] == "exceeds"),
            "{modulation}: {document}"
        );
    }
}

#[test]
fn amplitude_modulation_and_hum_are_named() {
    let am = &readings("      modulation: { am: { depth: 30 %, tone: 1 kHz } }", "", "62 dB")[0];
    is_named(am, "carrier-not-constant", "amplitude modulation");
    let hum = &readings("      modulation: { hum: { depth: 10 % } }", "", "62 dB")[0];
    is_named(hum, "carrier-not-constant", "hum of the mains");
}

/// A tone below speech does no harm, and is told.
#[test]
fn a_sub_audible_tone_is_noticed() {
    let all = readings("      sub_audible: { deviation: 700 Hz, tone: 100 Hz }", "", "62 dB");
    assert!(all.iter().all(|reading| reading["outcome"] == "complies"), "{all:?}");
    assert!(all[0]["remarks"][0].as_str().unwrap().contains("sub-audible"), "{}", all[0]);
}

/// A link that is lost while the unit is off for a look leaves it on for what is measured again.
#[test]
fn a_lost_link_does_not_leave_the_unit_off() {
    let unit = "      receiver: [ { frequency: 292 MHz, level: -12 dBm } ]";
    for after in 12..22 {
        let cut = format!(
            "  faults: [ {{ instrument: analyser, does: cut-link, after_messages: {after}, lasts: 5 s }} ]"
        );
        let all = readings(unit, &cut, "50 dB");
        assert_eq!(all[0]["outcome"], "complies", "{after}: {}", all[0]);
        is_named(&all[1], "receiver", "its receiver makes it");
    }
}
