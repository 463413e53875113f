//! Bessel lines against scipy 1.17.1, and the fits against lines made from them.

use proptest::prelude::{ProptestConfig, prop_assert, proptest};
use spurline_units::{Db, Hertz};

use super::*;

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// scipy 1.17.1: jn_zeros(0, 4) and jn_zeros(1, 3).
#[test]
fn carriers_and_sidebands_vanish_where_bessel_functions_do() {
    for (n, expected) in (1..).zip([2.404_826, 5.520_078, 8.653_728, 11.791_534]) {
        close(carrier_null(n), expected, 1e-6);
    }
    for (n, expected) in (1..).zip([3.831_706, 7.015_587, 10.173_468]) {
        close(side_null(n), expected, 1e-6);
    }
}

/// scipy 1.17.1: deviation over jn_zeros(0, 2); the tones 1039 Hz and 906 Hz are common practice for 2.5 and 5 kHz.
#[test]
fn tones_that_make_a_carrier_vanish() {
    for (deviation, n, expected) in [
        (2500.0, 1, 1039.576),
        (5000.0, 2, 905.784),
        (5000.0, 1, 2079.153),
        (1500.0, 1, 623.746),
        (3000.0, 1, 1247.491),
    ] {
        close(tone_for_null(Hertz::new(deviation), n).get(), expected, 2e-3);
    }
}

/// scipy 1.17.1: 20 log10 |jv(n, m)|.
#[test]
fn lines_of_a_tone_stand_at_their_levels() {
    for (order, index, expected) in [
        (1, 0.2, -20.043),
        (0, 1.0, -2.325),
        (1, 1.0, -7.130),
        (2, 1.0, -18.793),
        (0, 2.5, -26.306),
        (1, 2.5, -6.071),
        (2, 2.5, -7.012),
        (3, 2.5, -13.287),
        (4, 2.5, -22.641),
    ] {
        close(line_level(order, index).get(), expected, 1e-3);
    }
    // One per cent above the null the carrier is 38.117 dB down.
    close(line_level(0, carrier_null(1) * 1.01).get(), -38.117, 1e-3);
}

/// scipy 1.17.1, brentq on jv(1, m) / jv(0, m): -10 dB at 0.6032, -6 dB at 0.8978.
#[test]
fn the_first_sideband_over_the_carrier_gives_the_index() {
    for (ratio, expected) in [(-10.0, 0.603_2), (-6.0, 0.897_8)] {
        let found = root(|m| 20.0 * (bessel(1, m) / bessel(0, m)).log10() - ratio, 0.01, 2.0);
        close(found, expected, 5e-5);
    }
}

/// scipy 1.17.1, brentq on 20 log10 |jv(0, m)|: 38.117 dB is 1 % above the first null, and 0.992 % below it.
#[test]
fn a_deep_null_holds_the_index_within_narrow_bounds() {
    let (low, high) = index_near_null(Db::new(38.117), 1).unwrap();
    close(high / carrier_null(1), 1.01, 1e-5);
    assert!(low < carrier_null(1) && (low / carrier_null(1) - 0.99).abs() < 2e-4, "{low}");
    assert!(
        index_near_null(Db::new(3.0), 1).is_none(),
        "the carrier is never so strong again behind the null"
    );
    let (low, high) = index_near_null(Db::new(20.0), 2).unwrap();
    assert!(low < carrier_null(2) && carrier_null(2) < high);
}

/// numpy 2.4.6: 20 log10(m / 2) and 10 log10(1 + m² / 2).
#[test]
fn sidebands_of_amplitude_modulation() {
    close(sideband_level(0.3).get(), -16.478, 1e-3);
    close(sideband_level(1.0).get(), -6.021, 1e-3);
    close(power_rise(0.3).get(), 0.191, 1e-3);
    close(power_rise(1.0).get(), 1.761, 1e-3);
    // Phase swings with the tone lift one side and lower the other: the depth is that of their mean.
    let found = am_depth(2.0, [0.25, 0.35], 0.01).unwrap();
    close(found.depth, 0.3, 1e-12);
    // By hand: 1 % of 0.3, and 1 % of the root of 0.125² and 0.175².
    close(found.standard, 0.01 * (0.09f64 + 0.015_625 + 0.030_625).sqrt(), 1e-12);
    assert!(am_depth(0.0, [0.1, 0.1], 0.01).is_none());
}

fn lines(index: f64, highest: u32, carrier: f64) -> Vec<ModulatedLine> {
    let line = |order| ModulatedLine {
        order,
        voltage: carrier * libm::jn(order as i32, index).abs(),
        standard: 0.01 * carrier * libm::jn(order as i32, index).abs() + 2e-3 * carrier,
    };
    (0..=highest).map(line).collect()
}

/// The lines of scipy's levels for an index of 2.5, read to a thousandth of a decibel.
#[test]
fn an_index_is_found_from_levels() {
    let levels = [-26.306, -6.071, -7.012, -13.287, -22.641];
    let line = |(order, level): (u32, f64)| {
        let voltage = 10f64.powf(level / 20.0);
        ModulatedLine { order, voltage, standard: 0.01 * voltage }
    };
    let fit = tone_index(&(0..).zip(levels).map(line).collect::<Vec<_>>()).unwrap();
    close(fit.index, 2.5, 2e-4);
    close(fit.carrier, 1.0, 2e-4);
    assert!(fit.misfit < 0.05 && fit.standard < 0.02, "{fit:?}");
}

/// Lines that no single tone makes are told by what is left: here those of amplitude modulation.
#[test]
fn other_lines_do_not_fit() {
    let line = |(order, voltage): (u32, f64)| ModulatedLine { order, voltage, standard: 0.01 };
    let am: Vec<_> = [(0, 1.0), (1, 0.5), (2, 0.0), (3, 0.0)].map(line).into();
    assert!(tone_index(&am).unwrap().misfit > 3.0);
    assert!(tone_index(&am[..2]).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_index_is_found_again(index in 0.05f64..8.0, carrier in 1e-6f64..1e3) {
        let fit = tone_index(&lines(index, index.ceil() as u32 + 2, carrier)).unwrap();
        prop_assert!((fit.index - index).abs() < 1e-4, "{index}: {fit:?}");
        prop_assert!((fit.carrier / carrier - 1.0).abs() < 1e-3);
    }

    /// Errors of one standard uncertainty at every line move the index by no more than a few of its own.
    #[test]
    fn errors_of_lines_stay_within_what_is_stated(index in 0.2f64..6.0, signs in 0u32..1024) {
        let mut lines = lines(index, index.ceil() as u32 + 2, 1.0);
        for (place, line) in lines.iter_mut().enumerate() {
            line.voltage += if signs >> place & 1 == 1 { line.standard } else { -line.standard };
        }
        let fit = tone_index(&lines).unwrap();
        prop_assert!((fit.index - index).abs() < 5.0 * fit.standard, "{index}: {fit:?}");
    }
}
