//! A default that a schema states is the one that the reader takes.

use std::collections::BTreeSet;

use super::document::{json_at, maps};
use super::sample::{Kind, Sample};
use super::schema::{is_closed, known_keys};
use crate::bench::{PARTS, instruments};

/// A simulated bench with one of everything, of which as little is said as may be.
const SPARSE: &str = "\
simulated:
  units: [ { serial: U-1, model: FH-2, firmware: 1.0, range: 130..500 MHz, powers: { high: 4.7 W },
             microphone: { level: 10 mV, am: { depth: 30 % } } } ]
  analyser: {}
  power_meter: {}
  supply: { link: {} }
  relay: {}
  key_line: {}
  hand: {}
  switch: {}
  generator: {}
  audio_generator: {}
  path:
    common:
      - { name: pad, pad: 30 dB }
      - { name: cable, cable: 0.5 dB, at: 1 GHz }
      - { name: notch, notch: 40 dB, at: 146 MHz }
";

/// Writing the default out changes nothing that the simulator reads.
#[test]
fn a_default_of_the_simulated_bench_may_be_written_out() {
    let text = [instruments(25_025, "A-0001"), PARTS.to_owned(), SPARSE.to_owned()].concat();
    let sample = Sample { kind: Kind::Bench, name: "config/benches/sparse.yaml".to_owned(), text };
    let (schema, mut document) = (Kind::Bench.schema(), sample.json());
    schema.check(&document).unwrap();
    let read = |sample: &Sample| format!("{:?}", sample.simulated().unwrap().unwrap());
    let bare = read(&sample);
    let mut tried = BTreeSet::new();
    for way in maps(&sample.tree().root) {
        let parts = schema.at(&document, &way);
        if !parts.iter().any(|part| is_closed(part)) {
            continue;
        }
        for (key, value) in known_keys(&parts) {
            let Some(default) = value.get("default") else { continue };
            let there = json_at(&mut document, &way).get(key);
            assert_eq!(there, None, "the sparse bench says `{key}`");
            let (written, _) = sample.with_key(&way, key, default);
            assert_eq!(read(&written), bare, "{key}: {default}");
            tried.insert(std::ptr::from_ref(value));
        }
    }
    for part in schema.every() {
        let stated = part["properties"].as_object().into_iter().flatten();
        for (key, value) in stated.filter(|(_, value)| value.get("default").is_some()) {
            assert!(tried.contains(&std::ptr::from_ref(value)), "`{key}` has no place on the sparse bench");
        }
    }
    assert!(tried.len() > 30, "only {} defaults", tried.len());
}

#[test]
fn a_default_of_a_plan_may_be_written_out() {
    let properties = &Kind::Plan.schema().root()["properties"];
    let default = |path: &str| {
        let default = properties.pointer(path).and_then(|key| key.get("default")).unwrap();
        default.as_str().map_or_else(|| default.to_string(), str::to_owned)
    };
    let plan = |more: &str| {
        let text = format!(
            "plan: short\nbench: ../benches/analyser-alone.yaml\nrule: us-part-97\nunit: {{ model: FH-2 }}\n\
             channels: [ {{ name: one, carrier: 146 MHz, power: {{ high: 4..5.5 W }} }} ]\n{more}"
        );
        let sample = Sample { kind: Kind::Plan, name: "config/plans/short.yaml".to_owned(), text };
        sample.plan().unwrap().plan
    };
    let bare = plan("");
    let written = plan(&format!(
        "decision: {}\nmodulation: {}\nmeasure: {{ harmonics: {{ up_to: {} }} }}\nkey: {{ longest: {}, rest: {} }}\n",
        default("/decision"),
        default("/modulation"),
        default("/measure/properties/harmonics/properties/up_to"),
        default("/key/properties/longest"),
        default("/key/properties/rest"),
    ));
    assert_eq!((bare.decision, bare.measure), (written.decision, written.measure));
    assert_eq!((bare.key.longest, bare.key.rest), (written.key.longest, written.key.rest));
}
