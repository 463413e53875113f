//! Setting a modulation up by its level, and measuring it: with an audio generator, by hand, and when it cannot be done.

use serde_json::Value;

use crate::bench::{Called, PARTS, Workshop, plan, root};
use crate::processes::{Serving, running_keyed, signal};

/// A shipped plan and its bench in one folder, each with texts replaced.
fn workshop(plan: &str, bench: &str, in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Workshop {
    let shipped = |folder: &str, name: &str| {
        let text = std::fs::read_to_string(root().join("config").join(folder).join(name)).unwrap();
        let paths = root().join("config/paths");
        text.replace("../paths", paths.to_str().unwrap())
            .replace(&format!("../benches/{bench}"), "bench.yaml")
    };
    let replaced = |text: String, replace: &[(&str, &str)]| {
        replace.iter().fold(text, |text, (from, to)| {
            assert!(text.contains(from), "`{from}` is not in:\n{text}");
            text.replace(from, to)
        })
    };
    Workshop::with(&replaced(shipped("plans", plan), in_plan), &replaced(shipped("benches", bench), in_bench))
}

fn with_tone(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Workshop {
    let few: &[(&str, &str)] = &[("up_to: 5", "up_to: 2"), (", low: 0.7..1.2 W", "")];
    workshop("set-up-tone.yaml", "with-audio.yaml", &[few, in_plan].concat(), in_bench)
}

fn run(workshop: &Workshop) -> (Called, Vec<Value>) {
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let readings = called.json()["readings"].as_array().unwrap().clone();
    (called, readings)
}

fn of<'r>(readings: &'r [Value], quantity: &str, named: bool) -> &'r Value {
    let found = readings.iter().find(|one| one["quantity"] == quantity && one["name"].is_null() != named);
    found.unwrap_or_else(|| panic!("no {quantity} in {readings:#?}"))
}

/// The number before a unit in a remark.
fn number(remark: &str, unit: &str) -> f64 {
    let before = remark.split(unit).next().unwrap().trim();
    before.rsplit(' ').next().unwrap().parse().unwrap_or_else(|_| panic!("{remark}"))
}

fn remark<'r>(reading: &'r Value, with: &str) -> &'r str {
    let remarks = reading["remarks"].as_array().unwrap();
    let mut texts = remarks.iter().map(|remark| remark.as_str().unwrap());
    texts.find(|text| text.contains(with)).unwrap_or_else(|| panic!("`{with}` is not in {reading:#}"))
}

/// Without a spread the simulated modulator needs 10 mV times 2.5 kHz over 2.2 kHz, 11.36 mV, less the 0.05 dB that the
/// generator gives too much; 16 dB above that the limiter holds it at 4.7 kHz.
#[test]
fn the_level_is_what_the_modulator_needs_and_the_limiter_holds() {
    let workshop = with_tone(&[], &[("spread: 2 dB", "spread: 0 dB")]);
    let (called, readings) = run(&workshop);
    assert_eq!(called.exit, 0, "{called:?}");
    let set_up = of(&readings, "deviation", true);
    let (half, level) = (set_up["value"].as_f64().unwrap(), number(remark(set_up, "after"), " mV"));
    assert!((half / 2500.0 - 1.0).abs() <= 0.03, "{set_up:#}");
    let needed = 10.0 * half / 2200.0 / 10f64.powf(0.05 / 20.0);
    assert!((20.0 * (level / needed).log10()).abs() < 0.1, "{level} mV, {needed} mV needed");
    let raised = number(remark(set_up, "measured with"), " mV");
    assert!((20.0 * (raised / level).log10() - 16.0).abs() < 0.01, "{raised} over {level}");
    let measured = of(&readings, "deviation", false);
    let (value, u) =
        (measured["value"].as_f64().unwrap(), measured["expanded_uncertainty_hz"].as_f64().unwrap());
    assert!((value - 4700.0).abs() <= u && u < 150.0, "{measured:#}");
    assert_eq!(measured["outcome"], "complies");
    // It was forecast, and done within that.
    let forecast = workshop.call(&["check", "plan.yaml", "--json"]).json();
    assert!(forecast["scopes"][0]["set_up"]["most_looks"].as_u64().unwrap() >= 3);
    assert_eq!(readings.len(), 4, "set-up, carrier, deviation, one harmonic");
}

/// Whatever the sensitivity is, the level is found; the generator speaks last when its output is off, with the key up.
#[test]
fn every_sensitivity_is_found_and_the_generator_is_off_first_and_last() {
    for seed in 1..=6 {
        let workshop =
            with_tone(&[], &[("seed: 7", &format!("seed: {seed}")), ("spread: 2 dB", "spread: 6 dB")]);
        let (called, readings) = run(&workshop);
        let set_up = of(&readings, "deviation", true);
        assert_eq!(set_up["outcome"], "complies", "seed {seed}: {called:?}");
        assert_off_at_both_ends(&workshop);
    }
}

/// The first thing that the audio generator is told is to be silent; it gives a tone only while it should; and the last
/// thing that it is told, after the key has come up for good, is to be silent again.
fn assert_off_at_both_ends(workshop: &Workshop) {
    let transcript = workshop.call(&["show", "last", "--transcript", "--json"]).json();
    let (mut told, mut keyed) = (Vec::new(), false);
    for entry in transcript["entries"].as_array().unwrap() {
        let text = entry["text"].as_str().unwrap_or_default();
        if entry["direction"] != "to" {
            continue;
        }
        if entry["link"] == "relay" {
            keyed = (keyed || text.contains("ROUT:CLOS (@1)")) && !text.contains("ROUT:OPEN (@1)");
        } else if entry["link"] == "audio-generator" {
            for part in text.split(';').map(|part| part.trim_start_matches(':')) {
                if part == "OUTP ON" || part == "OUTP OFF" {
                    told.push((part.to_owned(), keyed));
                }
            }
        }
    }
    assert_eq!(told.first(), Some(&("OUTP OFF".to_owned(), false)), "{told:?}");
    assert_eq!(told.last(), Some(&("OUTP OFF".to_owned(), false)), "{told:?}");
    assert!(told.iter().any(|(part, _)| part == "OUTP ON"), "{told:?}");
}

#[test]
fn a_unit_that_does_not_follow_is_told() {
    let no_microphone = "microphone: { level: 10 V, fm: { deviation: 1 Hz, limiter: 4.7 kHz } }";
    let keys = "microphone:\n        level: 10 mV\n        fm: { deviation: 2.2 kHz, limiter: 4.7 kHz }\n        maximum_response: 2.7 kHz\n        spread: 2 dB\n";
    let cases = [
        (keys, format!("{no_microphone}\n"), "is it connected to the microphone input"),
        ("limiter: 4.7 kHz", "limiter: 1.8 kHz".to_owned(), "a limiter holds it below"),
        ("level: 10 mV", "level: 4 V".to_owned(), "the most that may be given"),
        ("      rise: 20 ms", "      rise: 20 ms\n      time_out: 1 ms".to_owned(), "no carrier came"),
    ];
    for (from, to, says) in cases {
        // Without the proof of the path: a unit that gives no carrier would be found out before any tone is given.
        let workshop = with_tone(&[], &[(from, &to), ("bench:", "verify_path: false\nbench:")]);
        let (called, readings) = run(&workshop);
        assert_eq!(called.exit, 3, "{called:?}");
        assert_eq!(readings.len(), 4, "all of the scope: {readings:#?}");
        for reading in &readings {
            assert_eq!(reading["outcome"], "invalid", "{reading:#}");
            assert!(reading["reason"].as_str().unwrap().contains(says), "`{says}`: {reading:#}");
        }
        assert_off_at_both_ends(&workshop);
    }
}

/// Without a limiter: at least 85 % of 5 kHz.
#[test]
fn without_a_limiter_a_share_of_the_deviation_is_set() {
    let share = [("above_half: 16 dB", "at_least: 85 %"), ("    maximum_response: 2.7 kHz ", "    # ")];
    let (called, readings) = run(&with_tone(&share, &[("limiter: 4.7 kHz", "limiter: 50 kHz")]));
    assert_eq!(called.exit, 0, "{called:?}");
    for named in [true, false] {
        let value = of(&readings, "deviation", named)["value"].as_f64().unwrap();
        assert!((4250.0 * 0.99..=4250.0 * 1.07).contains(&value), "{readings:#?}");
    }
}

/// The shipped plan and bench: no audio generator, a hand that sets the tone while the key is up.
#[test]
fn a_depth_is_set_by_hand() {
    let workshop = workshop("set-up-am.yaml", "tone-by-hand.yaml", &[], &[]);
    let (called, readings) = run(&workshop);
    assert_eq!(called.exit, 0, "{called:?}");
    let (set_up, depth) = (of(&readings, "modulation_depth", true), of(&readings, "modulation_depth", false));
    let (value, u) = (set_up["value"].as_f64().unwrap(), set_up["budget_expanded"].as_f64().unwrap_or(5.0));
    assert!((value - 85.0).abs() <= 2.55 && u <= 5.0, "{set_up:#}");
    assert!((depth["value"].as_f64().unwrap() - value).abs() < 0.5 && depth["unit"] == "%", "{depth:#}");
    // 4.5 W with 85 %: 1 + m²/2 as much mean power.
    let carrier = of(&readings, "carrier_power", false)["value"].as_f64().unwrap();
    assert!((10.0 * (carrier / (4.5 * (1.0 + 0.85f64.powi(2) / 2.0))).log10()).abs() < 1.0, "{carrier}");
    let checked = workshop.call(&["check", "plan.yaml"]);
    assert!(checked.out.contains("the operator is asked"), "{checked:?}");
}

/// Where it clips below the depth that is wanted, more level does not help.
#[test]
fn clipping_is_told() {
    let workshop =
        workshop("set-up-am.yaml", "tone-by-hand.yaml", &[], &[("clips_at: 95 %", "clips_at: 60 %")]);
    let (called, readings) = run(&workshop);
    assert_eq!(called.exit, 3, "{called:?}");
    assert!(
        readings[0]["reason"].as_str().unwrap().contains("more level makes no more than 60"),
        "{readings:#?}"
    );
    assert_eq!(readings[0]["reason_code"], "set-up-failed");
}

/// With the tone set by a generator or by hand, what the instruments said is enough to make the same readings again.
#[test]
fn a_set_up_is_replayed() {
    let by_hand = workshop("set-up-am.yaml", "tone-by-hand.yaml", &[], &[]);
    for workshop in [with_tone(&[], &[]), by_hand] {
        assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 0);
        let replayed = workshop.call(&["replay", "last"]);
        assert_eq!(replayed.exit, 0, "{replayed:?}");
        assert!(replayed.out.contains("all the same"), "{replayed:?}");
    }
}

/// A person who is not there cannot set a tone: nothing is keyed but for the glimpse.
#[test]
fn without_anybody_to_set_the_tone_nothing_is_keyed() {
    let plan =
        [plan("146 MHz", 2), "modulation: { set_up: { tone: 1 kHz, depth: 85 % } }\n".to_owned()].concat();
    let workshop = Workshop::with(&plan, "");
    let serving = Serving::start(&workshop, "");
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("nobody gives it"), "{called:?}");
    assert!(!called.talk.contains("KEY DOWN for at most 20 s") && !serving.keyed(), "{called:?}");
}

/// A stop comes through at any time: key up, tone off.
#[test]
fn a_stop_leaves_no_tone() {
    // The first key-down is one that gives a tone.
    let workshop =
        with_tone(&[], &[("clock: fast ", "clock: real "), ("bench:", "verify_path: false\nbench:")]);
    let (mut child, _talk) = running_keyed(&workshop);
    signal("-INT", &child);
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert_off_at_both_ends(&workshop);
}

/// A link that dies in the middle of the search: the key comes up, the link is made again, the search is begun anew, and
/// the output is off at the end.
#[test]
fn a_cut_link_of_the_generator_is_made_again() {
    let fault = "  relay: { channels: 8 }\n  faults: [ { instrument: audio-generator, does: cut-link, after_messages: 9, lasts: 5 s } ]\n";
    let workshop = with_tone(&[], &[("  relay: { channels: 8 }\n", fault)]);
    let (called, readings) = run(&workshop);
    assert_eq!(called.exit, 0, "{called:?}");
    assert_eq!(readings.len(), 4, "{readings:#?}");
    assert_off_at_both_ends(&workshop);
}

/// A plan that declares a tone by itself is held against what is there.
fn declared(seed: u64, declared: f64, truth: &str) -> (Called, Vec<Value>) {
    let plan = format!(
        "plan: test\nbench: bench.yaml\nrule: us-part-97\nunit: {{ model: FH-2 }}\n\
         channels: [ {{ name: one, carrier: 146 MHz, power: {{ high: 4..5.5 W }} }} ]\n\
         measure: {{ harmonics: {{ up_to: 2 }}, modulation: {{ deviation: {{ at_most: 8 kHz }} }} }}\n\
         modulation: {{ tone: {{ deviation: {declared} Hz, frequency: 1.25 kHz }} }}\n"
    );
    let simulated = crate::bench::simulated(seed, "")
        .replace("vswr: 1.3,", &format!("vswr: 1.3, {truth},"))
        .replace(
            "serial: A-0001, firmware: 1.0 } }",
            "serial: A-0001, firmware: 1.0 }, errors: { scale_fidelity: { within: 0.2 dB, distribution: rectangular } } }",
        );
    let bench = [crate::bench::instruments(25_025, "A-0001"), PARTS.to_owned(), simulated].concat();
    run(&Workshop::with(&plan, &bench))
}

/// Fifty benches, each with a scale that is off within what the profile states, and a carrier off its channel: the
/// deviation lies within its stated uncertainty of the truth in all but the few that 95 % leaves.
#[test]
fn the_deviation_is_right_within_its_uncertainty() {
    let one = |seed: u64| {
        let truth = 900.0 + 137.0 * seed as f64 % 4100.0;
        let off = 13.0 * seed as f64;
        let keys = format!(
            "off_channel: {off} Hz, modulation: {{ fm: {{ deviation: {truth} Hz, tone: 1.25 kHz }} }}"
        );
        let (called, readings) = declared(seed, truth.round(), &keys);
        let reading = of(&readings, "deviation", false);
        assert_eq!(reading["outcome"], "complies", "seed {seed}, {truth} Hz: {called:?}");
        let (value, u) =
            (reading["value"].as_f64().unwrap(), reading["expanded_uncertainty_hz"].as_f64().unwrap());
        assert!(u < 0.05 * truth, "seed {seed}: U = {u} Hz of {truth} Hz");
        (value - truth).abs() / u
    };
    let half = |first: u64| (first..51).step_by(2).map(one).collect::<Vec<_>>();
    let mut all = std::thread::scope(|scope| {
        let other = scope.spawn(|| half(2));
        let mut all = half(1);
        all.extend(other.join().unwrap());
        all
    });
    all.sort_by(f64::total_cmp);
    let outside = all.iter().filter(|over_u| **over_u > 1.0).count();
    assert!(all.len() == 50 && outside <= 3, "{outside} of 50 outside U: {all:?}");
}

#[test]
fn a_modulation_that_is_not_what_the_plan_says_is_told() {
    let fm =
        |deviation: u32| format!("modulation: {{ fm: {{ deviation: {deviation} Hz, tone: 1.25 kHz }} }}");
    let (_, readings) = declared(1, 2500.0, &fm(3500));
    let other = of(&readings, "deviation", false);
    assert!((other["value"].as_f64().unwrap() - 3500.0).abs() < 50.0, "{other:#}");
    remark(other, "the modulation is not what is declared");
    for (truth, says) in [
        ("rise: 20 ms", "is the tone on"),
        ("modulation: { fm: { deviation: 2.5 kHz, tone: 1.6 kHz } }", "not those of one tone"),
        ("modulation: { am: { depth: 30 %, tone: 1.25 kHz } }", "not those of one tone"),
    ] {
        let (_, readings) = declared(1, 2500.0, truth);
        let reading = of(&readings, "deviation", false);
        assert_eq!(reading["outcome"], "invalid", "{truth}: {reading:#}");
        let reason = reading["reason"].as_str().unwrap();
        // Where the carrier itself swings, it is the carrier that the plan does not know.
        assert!(reason.contains(says) || reason.contains("amplitude modulation"), "{truth}: {reason}");
    }
}

/// The first null of the carrier, at 2.4048 times the tone (scipy 1.17.1): how deep it is says so again.
#[test]
fn a_null_of_the_carrier_confirms_the_deviation() {
    let (_, readings) = declared(3, 3000.0, "modulation: { fm: { deviation: 3006 Hz, tone: 1.25 kHz } }");
    let reading = of(&readings, "deviation", false);
    assert!(remark(reading, "null 1 of the carrier").contains("that agrees with the lines"), "{reading:#}");
}

#[test]
fn what_makes_no_sense_in_a_set_up_is_refused() {
    for (from, to, says) in [
        ("above_half: 16 dB", "above_half: 16 dB\n    at_least: 85 %", "found both"),
        ("rated_deviation: 5 kHz", "rated_deviation: 5 kHz\n    depth: 30 %", "found more than one"),
        ("within: 3 %", "within: 50 %", "expected a share from"),
        ("start: 5 mV", "start: 2 V", "expected `start` at most `most`"),
        ("tone: 2.5 kHz", "tone: 20 Hz", "expected a tone from"),
        ("deviation: { at_most: 5 kHz }", "depth: {}", "a depth is to be measured"),
        ("key: { longest: 20 s", "key: { longest: 5 s", "one look at the tone"),
    ] {
        let called = with_tone(&[(from, to)], &[]).call(&["check", "plan.yaml"]);
        assert_eq!(called.exit, 2, "{to}: {called:?}");
        assert!(called.talk.contains(says), "`{says}`: {called:?}");
    }
}
