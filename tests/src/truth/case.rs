//! A bench and a unit with a known truth, drawn at random, and the files that say so.

use std::fmt::Write;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::texts::Texts;

/// What the unit truly gives at one frequency into a matched load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Emission {
    /// The order; 1 is the carrier.
    pub order: u32,
    /// The level in dBm; `None` if there is nothing.
    pub level: Option<f64>,
    /// The limit in dBm; `None` for the carrier.
    pub limit: Option<f64>,
}

/// A drawn bench with its unit.
#[derive(Clone, Debug)]
pub struct Case {
    /// The number that it was drawn from.
    pub seed: u64,
    /// The files.
    pub texts: Texts,
    /// What is true.
    pub emissions: Vec<Emission>,
    /// Whether so much is lost in the path that harmonics drown in the noise.
    pub is_deaf: bool,
}

/// Orders that are looked at.
const ORDERS: u32 = 10;

/// Everything that is drawn of an analyser: what its profile states, and the truth within it.
pub(super) struct Analyser {
    pub(super) level: f64,
    pub(super) response: f64,
    pub(super) attenuator: f64,
    pub(super) second: [f64; 2],
    pub(super) third: [f64; 2],
    pub(super) noise: [f64; 2],
    pub(super) vswr: f64,
    pub(super) phases: Option<[f64; 2]>,
}

/// Everything about a case but its analyser.
pub(super) struct Bench {
    pub(super) seed: u64,
    pub(super) carrier_mhz: f64,
    pub(super) watts: f64,
    pub(super) rule: &'static str,
    pub(super) pad: f64,
    /// The way to the analyser; the power meter has 6 dB.
    pub(super) splitter: f64,
    pub(super) off_carrier: f64,
    pub(super) calibrated: f64,
    pub(super) ambient: Option<(f64, f64)>,
    pub(super) below: Vec<(u32, f64)>,
    pub(super) up_to: u32,
}

impl Case {
    /// Draws the case of a seed; the same seed gives the same case.
    #[must_use]
    pub fn draw(seed: u64) -> Self {
        let mut draws = ChaCha8Rng::seed_from_u64(seed);
        let mut between = |low: f64, high: f64| low + (high - low) * draws.random::<f64>();
        let bands = [(50.2, 53.8), (144.2, 147.8), (222.2, 224.8)];
        let band = bands[(between(0.0, 3.0) as usize).min(2)];
        let carrier_mhz = (between(band.0, band.1) * 80.0).round() / 80.0;
        let watts = 10f64.powf(between(-0.3, 1.35));
        let rule = if between(0.0, 1.0) < 0.5 { "us-part-97" } else { "itu-category-a" };
        let is_deaf = between(0.0, 1.0) < 0.1;
        // Enough that the analyser's input is never in danger; much more where it shall not hear.
        let pad = if watts > 8.0 { 40.0 } else { 30.0 };
        let limit = limit(rule, watts);
        let power = 10.0 * (watts * 1000.0).log10();
        let mut emissions = vec![Emission { order: 1, level: Some(power), limit: None }];
        let mut below = Vec::new();
        for order in 2..=ORDERS {
            let level = match between(0.0, 1.0) {
                near if near < 0.35 => Some(limit + between(-3.0, 3.0)),
                far if far < 0.7 => Some(limit - between(5.0, 40.0)),
                over if over < 0.8 => Some(limit + between(3.0, 12.0)),
                _ => None,
            };
            below.extend(level.map(|level| (order, power - level)));
            emissions.push(Emission { order, level, limit: Some(limit) });
        }
        let ambient =
            (between(0.0, 1.0) < 0.2).then(|| (carrier_mhz * between(2.0, 10.0), between(-100.0, -60.0)));
        let second = between(38.0, 50.0);
        let third = between(10.0, 18.0);
        let noise = between(-152.0, -146.0);
        let analyser = Analyser {
            level: between(0.1, 0.4),
            response: between(0.1, 0.4),
            attenuator: between(0.02, 0.12),
            // What is guaranteed, and what is true: that or better.
            second: [second, second + between(0.0, 6.0)],
            third: [third, third + between(0.0, 4.0)],
            noise: [noise, noise - between(0.0, 2.0)],
            vswr: between(1.1, 1.6),
            phases: None,
        };
        let bench = Bench {
            seed,
            carrier_mhz,
            watts,
            rule,
            pad,
            splitter: if is_deaf { 46.0 } else { 6.0 },
            off_carrier: between(1.5, 6.0),
            calibrated: between(0.05, 0.3),
            ambient,
            below,
            up_to: ORDERS,
        };
        Self { seed, texts: texts(&bench, &analyser), emissions, is_deaf }
    }
}

/// 47 CFR 97.307(e): 25 uW for a transmitter of 25 W or less. ITU-R SM.329-12, category A: 43 + 10 log P or 70 dB less
/// than the carrier, whichever is the smaller attenuation.
pub(super) fn limit(rule: &str, watts: f64) -> f64 {
    let power = 10.0 * (watts * 1000.0).log10();
    match rule {
        // The text also asks for 40 dB below the carrier, which from 0.25 W on is less strict.
        "us-part-97" => 10.0 * 0.025f64.log10(),
        _ => power - (43.0 + 10.0 * watts.log10()).min(70.0),
    }
}

pub(super) fn texts(bench: &Bench, analyser: &Analyser) -> Texts {
    let mut texts = Texts::default();
    texts.0.insert("plan.yaml".to_owned(), plan(bench));
    texts.0.insert("analyser.yaml".to_owned(), profile(analyser));
    texts.0.insert("bench.yaml".to_owned(), file(bench, analyser));
    texts
}

fn plan(bench: &Bench) -> String {
    format!(
        "plan: drawn\nbench: bench.yaml\nrule: {}\nunit: {{ model: D-1, vswr: 1.3, vswr_off_carrier: {:.4} }}\n\
         channels: [ {{ name: one, carrier: {} MHz, power: {{ high: {:.4}..{:.4} W }} }} ]\n\
         measure: {{ harmonics: {{ up_to: {} }} }}\nkey: {{ longest: 60 s, rest: 60 s }}\n",
        bench.rule,
        bench.off_carrier,
        bench.carrier_mhz,
        bench.watts * 0.6,
        bench.watts * 1.7,
        bench.up_to,
    )
}

/// The shipped profile with the figures of this analyser.
fn profile(analyser: &Analyser) -> String {
    let shipped = Texts::default();
    let text = spurline_plan::Library::profile(&shipped, "", "analyser-generic").map(|text| text.text);
    let text = text.expect("the profile is shipped with the project");
    let head = text.split("\nlimits:").next().expect("there is always a first part").to_owned();
    format!(
        "{head}\nlimits:\n  second_intercept: {} dBm\n  third_intercept: {} dBm\n  linear_to: -10 dBm\n  damage: 30 dBm\n  \
         vswr: {:.4}\nnoise: {{ in_1_hz: {} dBm, averaged: power, bandwidth_over_rbw: 1.065 }}\naccuracy:\n  \
         absolute_level: {{ within: {} dB, distribution: normal }}\n  \
         frequency_response: {{ within: {} dB, distribution: normal }}\n  \
         attenuator_switching: {{ within: {} dB, distribution: normal }}\n  \
         bandwidth_switching: {{ within: 0.01 dB, distribution: rectangular }}\n  \
         scale_fidelity: {{ within: 0.01 dB, distribution: rectangular }}\n",
        analyser.second[0],
        analyser.third[0],
        analyser.vswr,
        analyser.noise[0],
        2.0 * analyser.level,
        2.0 * analyser.response,
        2.0 * analyser.attenuator,
    )
}

/// The bench as its owner knows it; its tables are filled in when the truth has been calibrated.
fn file(bench: &Bench, analyser: &Analyser) -> String {
    let mut below = String::new();
    for (order, below_carrier) in &bench.below {
        write!(below, "{order}: {below_carrier:.6} dB, ").expect("a string takes everything");
    }
    let phases = analyser.phases.map_or_else(String::new, |[second, third]| {
        format!("\n    distortion_phase: {{ 2: {second} deg, 3: {third} deg }}")
    });
    let ambient = bench.ambient.map_or_else(String::new, |(mhz, level)| {
        format!("\n  ambient: [ {{ frequency: {mhz:.6} MHz, level: {level:.2} dBm }} ]")
    });
    let Bench { seed, pad, splitter, calibrated, off_carrier, .. } = bench;
    let part = |name: &str, rated: &str| {
        format!("{{ touchstone: {name}.s2p, uncertainty: {calibrated:.4} dB, name: {name}{rated} }}")
    };
    format!(
        "bench: drawn\n\
         analyser: {{ at: \"TCPIP::127.0.0.1::25025::SOCKET\", profile: analyser.yaml, serial: A-0001 }}\n\
         power_meter: {{ at: \"TCPIP::127.0.0.1::25026::SOCKET\", profile: power-meter-generic }}\n\
         unit_control: {{ at: \"TCPIP::127.0.0.1::25027::SOCKET\", profile: unit-generic }}\n\
         key: {{ relay: {{ at: \"TCPIP::127.0.0.1::25028::SOCKET\", profile: relay-generic, contact: 1, opens_by_itself: 1 s }} }}\n\
         common: [ {} ]\nbranches:\n  analyser: [ {}, {} ]\n  power_meter: [ {} ]\n\
         simulated:\n  seed: {seed}\n  clock: fast\n  units:\n    - serial: D-1\n      model: D-1\n      firmware: 1.0\n      \
         range: 30 MHz..480 MHz\n      powers: {{ high: {} W }}\n      harmonics: {{ {below} }}\n      vswr: 1.3\n      \
         vswr_off_carrier: {off_carrier:.4}\n  analyser:\n    \
         identity: {{ maker: Example, model: Analyser, serial: A-0001, firmware: 1.0 }}\n    noise: {} dBm\n    \
         second_intercept: {} dBm\n    third_intercept: {} dBm\n    level_spread: {} dB\n    response_spread: {} dB\n    \
         attenuator_spread: {} dB\n    vswr: {:.4}{phases}\n  power_meter: {{ level_spread: 0.03 dB, vswr: 1.1 }}\n  relay: {{}}\n  path:\n    \
         common: [ {{ name: pad, pad: {pad} dB, slope: 0.2 dB, vswr: 1.1, calibrated_within: {calibrated:.4} dB }} ]\n    \
         analyser: [ {{ name: splitter, pad: {splitter} dB, vswr: 1.12, calibrated_within: {calibrated:.4} dB }}, \
         {{ name: cable, pad: 1 dB, slope: 0.4 dB, vswr: 1.08, calibrated_within: {calibrated:.4} dB }} ]\n    \
         power_meter: [ {{ name: other, pad: 6 dB, vswr: 1.12, calibrated_within: {calibrated:.4} dB }} ]{ambient}\n",
        part("pad", ", rated: 50 W"),
        part("splitter", ""),
        part("cable", ""),
        part("other", ""),
        bench.watts,
        analyser.noise[1],
        analyser.second[1],
        analyser.third[1],
        analyser.level,
        analyser.response,
        analyser.attenuator,
        analyser.vswr,
    )
}
