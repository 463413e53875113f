//! A harmonic of known level beside an own product of the analyser of every phase and several sizes: what one step of
//! the attenuator would not tell apart must never give a wrong outcome.

use super::case::{Analyser, Bench, Case, Emission, limit, texts};

/// A harmonic of `order` that is `over` decibels above its limit, and an own product, with the least attenuation, of
/// `ratio` times its voltage at `phase` degrees.
#[must_use]
pub fn case(order: u32, over: f64, ratio: f64, phase: f64) -> Case {
    let (carrier_mhz, watts, rule) = (146.0, 4.7, "us-part-97");
    let limit = limit(rule, watts);
    let level = limit + over;
    let power = 10.0 * (watts * 1000.0f64).log10();
    // 36.6 dB of path bring the carrier to 0 dBm at the input, where 20 dB is the least attenuation.
    let (path, attenuation) = (36.6, 20.0);
    let mixer = power - path - attenuation;
    let own = level - path - attenuation + 20.0 * ratio.log10();
    let second = 2.0 * mixer - own;
    let third = (3.0 * mixer - own - 20.0 * 3f64.log10()) / 2.0;
    let analyser = Analyser {
        level: 0.1,
        response: 0.1,
        attenuator: 0.05,
        second: if order == 2 { [second; 2] } else { [60.0; 2] },
        third: if order == 3 { [third; 2] } else { [40.0; 2] },
        noise: [-150.0; 2],
        vswr: 1.2,
        phases: Some([phase; 2]),
    };
    let bench = Bench {
        seed: (phase * 10.0) as u64,
        carrier_mhz,
        watts,
        rule,
        pad: 30.0,
        splitter: 6.0,
        off_carrier: 2.0,
        calibrated: 0.1,
        ambient: None,
        below: vec![(order, power - level)],
        up_to: 3,
    };
    let emissions = vec![
        Emission { order: 1, level: Some(power), limit: None },
        Emission { order, level: Some(level), limit: Some(limit) },
    ];
    Case { seed: bench.seed, texts: texts(&bench, &analyser), emissions, is_deaf: false }
}
