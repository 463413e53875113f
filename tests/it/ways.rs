//! Named paths: which reading takes which, what is switched when, and what a path that does not fit is told.

use serde_json::Value;

use crate::bench::{Called, Workshop, instruments, plan, root};

fn run_shipped(plan: &str) -> (Called, Value) {
    let workshop = Workshop::new();
    let plan = root().join("config/plans").join(plan);
    let called = workshop.call(&["run", plan.to_str().unwrap(), "--json"]);
    let document = called.json();
    (called, document)
}

/// The shipped bench with a notch, beside the plan in one folder, with its tables.
fn workshop(plan: (&str, &str), bench: (&str, &str)) -> Workshop {
    let shipped = |name: &str| std::fs::read_to_string(root().join("config").join(name)).unwrap();
    let replaced = |text: String, (from, to): (&str, &str)| {
        assert!(text.contains(from), "`{from}` is not in:\n{text}");
        text.replace(from, to)
    };
    let local = |text: String| {
        let paths = root().join("config/paths");
        text.replace("../paths", paths.to_str().unwrap()).replace("../benches/notched.yaml", "bench.yaml")
    };
    let plan = replaced(local(shipped("plans/notched.yaml")), plan);
    let bench = replaced(local(shipped("benches/notched.yaml")), bench);
    Workshop::with(&plan, &bench)
}

#[track_caller]
fn refused(plan: (&str, &str), bench: (&str, &str), says: &[&str]) {
    let called = workshop(plan, bench).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    for text in says {
        assert!(called.talk.contains(text), "`{text}` is not in:\n{}", called.talk);
    }
}

const AS_IT_IS: (&str, &str) = ("plan:", "plan:");
const BENCH_AS_IT_IS: (&str, &str) = ("bench:", "bench:");

#[test]
fn the_carrier_is_read_through_and_harmonics_notched() {
    let (called, document) = run_shipped("notched.yaml");
    assert_eq!(called.exit, 0, "{called:?}");
    let readings = document["readings"].as_array().unwrap();
    // Two supplies, two channels, two power settings; a carrier on each of two key-downs and harmonics 2 to 7.
    assert_eq!(readings.len(), 2 * 2 * 2 * 8);
    for reading in readings.iter().filter(|reading| reading["quantity"] == "harmonic") {
        assert_eq!(reading["path"], "notched", "{reading}");
    }
    let carriers: Vec<_> = readings.iter().filter(|reading| reading["quantity"] == "carrier_power").collect();
    for pair in carriers.chunks(2) {
        assert_eq!((&pair[0]["path"], &pair[1]["path"]), (&"through".into(), &"notched".into()));
    }
    let supplies: Vec<_> = readings.iter().map(|reading| reading["supply"].as_str().unwrap()).collect();
    assert_eq!((supplies[0], supplies[63]), ("battery", "flat battery"));
}

/// The relay of the path moves only while the relay of the key is open, as the wire tells.
#[test]
fn no_relay_of_the_path_moves_under_power() {
    let workshop = workshop(("up_to: 7", "up_to: 2"), BENCH_AS_IT_IS);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let transcript = workshop.call(&["show", "last", "--transcript", "--json"]).json();
    let (mut keyed, mut moved, mut downs) = (false, 0, 0);
    for entry in transcript["entries"].as_array().unwrap() {
        if entry["direction"] != "to" {
            continue;
        }
        let (link, text) = (&entry["link"], entry["text"].as_str().unwrap());
        if link == "relay" {
            downs += u32::from(text.contains("ROUT:CLOS (@1)") && !keyed);
            keyed = (keyed || text.contains("ROUT:CLOS (@1)")) && !text.contains("ROUT:OPEN (@1)");
        } else if link == "switch" {
            assert!(!keyed, "{text}");
            moved += u32::from(text.contains("ROUT:CLOS (@3)") || text.contains("ROUT:OPEN (@3)"));
        }
    }
    // One way and back for each of eight states of unit and supply.
    assert_eq!((moved, downs), (16, 16));
}

/// The carrier is 40 dB weaker behind the notch than before it, and so is what the analyser makes of it: its second
/// harmonic falls by twice the decibels at the mixer (definition of the intercept).
#[test]
fn the_notch_takes_the_carrier_off_the_mixer() {
    let readings_of = |plan| {
        let called = workshop(plan, BENCH_AS_IT_IS).call(&["check", "plan.yaml", "--json"]);
        assert_eq!(called.exit, 0, "{called:?}");
        called.json()["scopes"][0].clone()
    };
    let notched = readings_of(AS_IT_IS);
    let through = readings_of(("harmonics: notched", "harmonics: through"));
    let input = |scope: &Value, down: usize| scope["key_downs"][down]["analyser_input_dbm"].as_f64().unwrap();
    assert!(input(&notched, 0) - input(&notched, 1) > 20.0, "{notched}");
    assert_eq!(
        (notched["key_downs"].as_array().unwrap().len(), through["key_downs"].as_array().unwrap().len()),
        (2, 1)
    );
    let own = |scope: &Value| scope["readings"][0]["own_product_dbm"].as_f64().unwrap();
    assert!(own(&through) - own(&notched) > 10.0, "{} {}", own(&through), own(&notched));
}

#[test]
fn a_bench_without_a_power_meter_says_so() {
    let (called, document) = run_shipped("analyser-alone.yaml");
    assert_eq!(called.exit, 0, "{called:?}");
    let carrier = &document["readings"][0];
    // 4.9 W; the analyser's budget is about 1 dB.
    assert!(
        (carrier["value"].as_f64().unwrap() / 4.9).log10().abs() * 10.0
            < carrier["expanded_uncertainty_db"].as_f64().unwrap()
    );
    let checked =
        Workshop::new().call(&["check", root().join("config/plans/analyser-alone.yaml").to_str().unwrap()]);
    assert!(checked.out.contains("the analyser stands alone"), "{checked:?}");
}

#[test]
fn a_path_that_does_not_fit_is_told_where() {
    let at = |text: &str| format!("--> {text}");
    refused(
        ("harmonics: notched", "harmonics: nothced"),
        BENCH_AS_IT_IS,
        &["has no path `nothced`", "did you mean `notched`?", &at("plan.yaml:")],
    );
    refused(
        ("harmonics: notched", "harmonics: standby"),
        BENCH_AS_IT_IS,
        &["inhibits the key on the path `standby`", "through, notched"],
    );
    refused(
        ("use: { carrier: through, harmonics: notched, leaks: leaks }\n", ""),
        BENCH_AS_IT_IS,
        &["does not say by which path the carrier is read", "paths of this bench: through, notched"],
    );
    let through = "through: { branch: analyser, set: { notch: out, load: to path } }";
    refused(
        AS_IT_IS,
        (through, "through: { branch: analyzer, set: { notch: out, load: to path } }"),
        &["there is no branch `analyzer`", "did you mean `analyser`?", &at("bench.yaml:")],
    );
    refused(
        AS_IT_IS,
        (through, "through: { branch: analyser }"),
        &["the path `through` does not say how `notch`, `load` is set", "give every relay a position"],
    );
    refused(
        AS_IT_IS,
        (through, "through: { branch: analyser, set: { notch: outt, load: to path } }"),
        &["expected a position of this relay, found `outt`", "did you mean `out`?"],
    );
    refused(
        AS_IT_IS,
        ("insert_after: splitter-3 ", "insert_after: spliter-3 "),
        &["there is no part `spliter-3` on this path", "did you mean `splitter-3`?"],
    );
    refused(
        AS_IT_IS,
        ("TCPIP::127.0.0.1::15040::SOCKET", "TCPIP::127.0.0.1::15038::SOCKET"),
        &["this is the relay card of the key", "a card of their own"],
    );
    refused(
        AS_IT_IS,
        ("  power_meter:\n    - { touchstone", "  power_metre:\n    - { touchstone"),
        &[
            "the branch `power_meter` that leads to this power meter is missing",
            "no path uses the branch `power_metre`",
        ],
    );
    refused(
        ("rated: 50 W, name: adapter SMA to N", "rated: 3 W, name: adapter SMA to N"),
        BENCH_AS_IT_IS,
        &["would put 5.50 W into `adapter SMA to N`, which is rated for 3 W", &at("plan.yaml:")],
    );
}

/// What `check` says of key-downs and times comes true: the unit is keyed no longer than foretold, and not much less.
#[test]
fn the_times_foretold_come_true() {
    for name in ["demo.yaml", "notched.yaml"] {
        let plan = root().join("config/plans").join(name);
        let workshop = Workshop::new();
        let foretold = workshop.call(&["check", plan.to_str().unwrap(), "--json"]).json();
        let run = workshop.call(&["run", plan.to_str().unwrap(), "--json"]).json();
        let downs = run["key_downs"].as_array().unwrap();
        assert_eq!(foretold["key_downs"].as_u64().unwrap() as usize, downs.len());
        let keyed: f64 = downs.iter().map(|down| down["held_s"].as_f64().unwrap()).sum();
        let foretold_keyed = foretold["keyed_s"].as_f64().unwrap();
        assert!((1.0..1.3).contains(&(foretold_keyed / keyed)), "{name}: {foretold_keyed} s, {keyed} s");
        let time = |key: &str| run[key].as_str().unwrap().parse::<jiff::Timestamp>().unwrap();
        let took = time("ended").duration_since(time("started")).as_secs_f64();
        let foretold_time = foretold["bench_time_s"].as_f64().unwrap();
        assert!((0.95..1.05).contains(&(foretold_time / took)), "{name}: {foretold_time} s, {took} s");
        let readings = run["readings"].as_array().unwrap().len();
        let progress = workshop.call(&["show", "last"]).out;
        assert!(progress.contains(&format!("{readings} readings:")), "{progress}");
    }
}

/// A bench whose notch holds back `depth` of a carrier of half a watt, in a path that loses 52 dB without it.
fn deep_notch(depth: u32) -> Workshop {
    let bench = format!(
        "\
{}relays: {{ notch: {{ at: \"TCPIP::127.0.0.1::25030::SOCKET\", profile: relay-generic, positions: {{ out: [], in: [ 1 ] }} }} }}
common: [ {{ attenuator: 46 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: pad, vswr: 1.1 }} ]
branches:
  analyser: [ {{ attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: splitter, vswr: 1.1 }} ]
  power_meter: [ {{ attenuator: 0 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 }} ]
paths:
  through: {{ branch: analyser, set: {{ notch: out }} }}
  notched:
    branch: analyser
    set: {{ notch: in }}
    insert: [ {{ loss: [ [ 1 MHz, 0 dB ], [ 145.9 MHz, {depth} dB ], [ 146.1 MHz, {depth} dB ], [ 292 MHz, 0.1 dB ], [ 3.2 GHz, 0 dB ] ],
      uncertainty: 0.2 dB, vswr: 1.1, name: notch }} ]
simulated:
  seed: 5
  units: [ {{ serial: U-1, model: FH-2, firmware: 1.0, range: 130 MHz..500 MHz, powers: {{ high: 0.5 W }}, harmonics: {{ 2: 45 dB }} }} ]
  analyser: {{ identity: {{ serial: A-0001 }} }}
  power_meter: {{}}
  relay: {{}}
  switch: {{}}
  path:
    common: [ {{ name: pad, pad: 46 dB, vswr: 1.1 }} ]
    analyser:
      - {{ name: notch, notch: {depth} dB, at: 146 MHz, quality: 2, loss: 0 dB, in_while_closed: 1 }}
      - {{ name: splitter, pad: 6 dB, vswr: 1.1 }}
    power_meter: [ {{ name: other, pad: 0 dB }} ]
",
        instruments(25_025, "A-0001")
    );
    let plan = plan("146 MHz", 3).replace("4..5.5 W", "0.4..0.6 W");
    Workshop::with(&format!("{plan}use: {{ carrier: through, harmonics: notched }}\n"), &bench)
}

/// Behind a notch of 50 dB the analyser's noise, counted back to the connector, is stronger than a carrier that is
/// left over would be. It is noise, and the unit is keyed.
#[test]
fn noise_behind_a_notch_is_no_carrier() {
    let called = deep_notch(50).call(&["run", "plan.yaml", "--json"]);
    let document = called.json();
    let readings = document["readings"].as_array().unwrap_or_else(|| panic!("{called:?}"));
    assert_eq!(readings.len(), 4, "{called:?}");
    for reading in readings {
        assert_eq!(reading["outcome"], "complies", "{reading}");
    }
}

/// The relay says that it moved, and the notch is not in the path: nothing that is read by it may count.
#[test]
fn a_notch_that_is_not_in_its_place_is_found_out() {
    let workshop = deep_notch(40);
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &bench.replace("in_while_closed: 1", "in_while_closed: 2"));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 3, "{called:?}");
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    assert_eq!((&readings[0]["path"], &readings[0]["outcome"]), (&"through".into(), &"complies".into()));
    assert_eq!(readings[1]["reason_code"], "cross-check-failed");
    assert!(readings[1]["reason"].as_str().unwrap().contains("is this path what the bench file says?"));
    for harmonic in &readings[2..] {
        assert_eq!(harmonic["reason_code"], "carrier-invalid", "{harmonic}");
    }
}

#[test]
fn a_notch_that_hides_the_carrier_is_refused() {
    let called = deep_notch(75).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("too little to see that it is constant"), "{called:?}");
    assert!(called.talk.contains("plan.yaml:7:"), "{called:?}");
}

/// A carrier that the first way bears and the second does not is never keyed on the second.
#[test]
fn a_way_that_does_not_bear_the_carrier_is_not_keyed() {
    // Behind a pad of 20 dB and a splitter of 6 dB 5.5 W, which the plan expects at most, become 13 mW at the notch.
    let workshop =
        workshop(("high: 4..5.5 W, low: 0.5..1.5 W", "high: 4..5.5 W"), ("rated: 2 W", "rated: 13.5 mW"));
    let bench = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &bench.replace("high: 4.8 W", "high: 5.8 W"));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(called.talk.contains("goes into `notch-2m`, which is rated for 13.5 mW"), "{called:?}");
    // A glimpse at the path, and the carrier by the other way.
    assert_eq!(called.talk.matches("KEY DOWN").count(), 2, "{called:?}");
}
