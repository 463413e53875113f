//! Lines of modulated carriers against Bessel functions and transforms of the whole signal, both from outside.

use super::*;
use crate::bench::tests::{WHOLE, read};

/// The unit of the test bench with these keys.
fn unit(keys: &str) -> UnitTruth {
    let text = WHOLE.replace("      rise: 20 ms\n", &format!("      rise: 20 ms\n{keys}"));
    read(&text).unwrap().first_unit().clone()
}

/// The level of the line at an offset, in dB relative to the bare carrier.
#[track_caller]
fn level(sides: &[Side], offset: f64) -> f64 {
    let found = sides.iter().find(|side| (side.offset - offset).abs() < 1e-6);
    10.0 * found.unwrap_or_else(|| panic!("no line at {offset} Hz")).share.log10()
}

fn total(sides: &[Side]) -> f64 {
    10.0 * sides.iter().map(|side| side.share).sum::<f64>().log10()
}

#[test]
fn a_bare_carrier_is_one_line() {
    assert_eq!(sides(&unit(""), None, 3.0), [Side { offset: 0.0, share: 1.0 }]);
}

/// scipy 1.17.1, `20 * log10(abs(jv(n, m)))` with m = 2.5 at the carrier and 7.5 at the third harmonic.
#[test]
fn a_tone_in_frequency_makes_bessel_lines() {
    let unit = unit("      modulation: { fm: { deviation: 2.5 kHz, tone: 1 kHz } }\n");
    let (first, third) = (sides(&unit, None, 1.0), sides(&unit, None, 3.0));
    for (n, expected) in
        [(0, -26.306_005), (1, -6.071_228), (2, -7.012_153), (3, -13.286_815), (5, -34.198_584)]
    {
        for sign in [-1.0, 1.0] {
            let found = level(&first, sign * f64::from(n) * 1e3);
            assert!((found - expected).abs() < 1e-5, "{n}: {found}");
        }
    }
    for (n, expected) in [(0, -11.491_283), (2, -12.755_124), (8, -15.168_677), (12, -45.638_2)] {
        let found = level(&third, f64::from(n) * 1e3);
        assert!((found - expected).abs() < 1e-5, "{n}: {found}");
    }
    // The sum of all J_n² is 1; what is left out are lines below -60 dB.
    assert!(total(&first).abs() < 1e-4 && total(&third).abs() < 1e-4);
    assert!(first.iter().chain(&third).all(|side| side.share >= 1e-6));
}

/// scipy 1.17.1: 1 % above the first zero of J0, 2.404826, the carrier is 38.117 dB down.
#[test]
fn the_carrier_vanishes_at_the_zeros() {
    let at = |deviation: f64| {
        let keys = format!("      modulation: {{ fm: {{ deviation: {deviation} Hz, tone: 1 kHz }} }}\n");
        sides(&unit(&keys), None, 1.0)
    };
    assert!((level(&at(2_428.874_26), 0.0) - -38.117).abs() < 1e-3);
    assert!(at(2_404.825_56).iter().all(|side| side.offset != 0.0));
}

/// Closed forms: a sideband is 20 log10(m / 2), the whole 10 log10(1 + m² / 2): -16.478 and 0.191 dB at 30 %,
/// -6.021 and 1.761 dB at 100 %, at every order alike.
#[test]
fn a_tone_in_voltage_makes_two_lines() {
    for (depth, sideband, rise) in [("30 %", -16.478, 0.191), ("100 %", -6.021, 1.761)] {
        let unit = unit(&format!("      modulation: {{ am: {{ depth: {depth}, tone: 1 kHz }} }}\n"));
        for scale in [1.0, 3.0] {
            let sides = sides(&unit, None, scale);
            assert_eq!(sides.len(), 3);
            assert!(
                (level(&sides, 1e3) - sideband).abs() < 1e-3 && (level(&sides, -1e3) - sideband).abs() < 1e-3
            );
            assert!((total(&sides) - rise).abs() < 1e-3);
        }
    }
    let hum = sides(&unit("      modulation: { hum: { depth: 1 % } }\n"), None, 1.0);
    assert!((level(&hum, 100.0) - -46.021).abs() < 1e-3);
}

/// numpy 2.4.6: one second of exp(j (2.5 sin 2π 1000 t + 5 sin 2π 130 t)) (1 + 0.3 cos 2π 400 t) (1 + 0.05 cos 2π 100 t)
/// in 2^20 samples, transformed.
#[test]
fn several_at_once_make_the_sums_of_their_offsets() {
    let unit = unit(
        "      modulation: { fm: { deviation: 2.5 kHz, tone: 1 kHz }, am: { depth: 30 %, tone: 400 Hz }, hum: { depth: 5 % } }\n      \
         sub_audible: { deviation: 650 Hz, tone: 130 Hz }\n",
    );
    let sides = sides(&unit, None, 1.0);
    for (offset, expected) in [
        (0.0, -41.317_3),
        (130.0, -36.005_7),
        (-130.0, -35.993_7),
        (1000.0, -21.082_7),
        (-1000.0, -21.082_3),
        (530.0, -52.527_7),
        (1400.0, -37.560_3),
        (-3000.0, -28.297_5),
    ] {
        let found = level(&sides, offset);
        assert!((found - expected).abs() < 0.02, "{offset} Hz: {found}");
    }
    // 563 bins hold more than a millionth; one of them hardly.
    assert!(sides.len().abs_diff(563) <= 1, "{}", sides.len());
    assert!((total(&sides) - 0.196_2).abs() < 1e-3, "{}", total(&sides));
}

/// However wild the modulation, the power stays and the lines are bounded in number.
#[test]
fn more_lines_than_anybody_looks_at_become_groups() {
    let unit = unit(
        "      modulation: { fm: { deviation: 50 kHz, tone: 1 kHz } }\n      sub_audible: { deviation: 2 kHz, tone: 67 Hz }\n",
    );
    let sides = sides(&unit, None, 10.0);
    assert!(sides.len() <= MOST_LINES, "{}", sides.len());
    assert!(total(&sides).abs() < 0.01, "{}", total(&sides));
    let reach = sides.iter().fold(0.0f64, |most, side| most.max(side.offset.abs()));
    assert!((500e3..560e3).contains(&reach), "{reach}");
}
