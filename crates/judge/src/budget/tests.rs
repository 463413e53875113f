//! Budgets against worked examples.

use proptest::prelude::*;
use spurline_units::Ratio;

use super::*;
use crate::relative::share_of_power;

const CERTIFICATE: Distribution = Distribution::Normal { k: 2.0 };

fn budget(lines: &[(f64, Distribution)]) -> Budget {
    let lines = lines.iter().map(|(value, kind)| Contribution::new("line", Db::new(*value), *kind, "test"));
    Budget { lines: lines.collect() }
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
}

/// EA-4/02, example S7, calibration of a 30 dB attenuator: 0.0224 dB and 0.045 dB are published, the
/// digits behind them are the root of the sum of squares by numpy 2.4.6.
#[test]
fn calibration_of_an_attenuator() {
    let lines = [9.0, 2.5, 1.1, 20.0, 1.7, 0.3, 0.3, 2.0, 2.0].map(|u| (u / 1000.0, Distribution::Standard));
    close(budget(&lines).combined().get(), 0.022_35, 1e-5);
    close(budget(&lines).expanded(2.0).get(), 0.044_7, 1e-4);
}

/// Values typical of the trade (common practice); sums by numpy 2.4.6.
#[test]
fn a_spurious_emission() {
    use Distribution::{Rectangular, Standard, UShaped};
    let mut lines = vec![
        (0.6, CERTIFICATE),
        (0.8, Rectangular),
        (0.3, Rectangular),
        (0.1, Rectangular),
        (0.3, Rectangular),
        (0.3, CERTIFICATE),
        (0.1, Rectangular),
        (0.15, Rectangular),
        (0.588, UShaped),
        (0.172, UShaped),
        (0.2, Standard),
        (0.08, Rectangular),
        (0.112, Standard),
    ];
    close(budget(&lines).combined().get(), 0.801_3, 1e-3);
    close(budget(&lines).expanded(2.0).get(), 1.602_6, 1e-3);
    lines.push((0.614_96, Standard));
    close(budget(&lines).combined().get(), 1.010_1, 1e-3);
    close(budget(&lines).expanded(2.0).get(), 2.020_2, 1e-3);
}

/// Values typical of the trade (common practice); sums by uncertainties 3.2.3. The mismatch half-widths are
/// 100 |G1||G2| / 11.5 dB, the form of ETSI TR 100 028.
#[test]
fn a_carrier_by_power_sensor() {
    use Distribution::{Rectangular, Standard, UShaped};
    let power = |share: f64| share_of_power(Ratio::new(share)).get();
    let lines = [
        (power(0.016), CERTIFICATE),
        (power(0.009), Rectangular),
        (power(0.005), Rectangular),
        (0.004, Standard),
        (0.15, CERTIFICATE),
        (0.2, Rectangular),
        (0.05, CERTIFICATE),
        (0.2 * 0.07 * 100.0 / 11.5, UShaped),
        (0.07 * 0.06 * 100.0 / 11.5, UShaped),
        (0.05, Standard),
        (0.03 / 5f64.sqrt(), Standard),
    ];
    close(budget(&lines).combined().get(), 0.179_2, 1e-3);
    close(budget(&lines).expanded(2.0).get(), 0.358_4, 1e-3);
}

/// JCGM 100:2008, 4.3.7 to 4.3.9 and, for the arcsine, EA-4/02: divisors as square roots of whole numbers.
#[test]
fn divisors() {
    for (kind, square) in
        [(Distribution::Rectangular, 3.0), (Distribution::Triangular, 6.0), (Distribution::UShaped, 2.0)]
    {
        close(kind.divisor().powi(2), square, 1e-12);
    }
    close(budget(&[(0.3, Distribution::Normal { k: 2.58 })]).combined().get(), 0.116_279, 1e-6);
    close(budget(&[(-0.3, Distribution::Triangular)]).combined().get(), 0.122_474, 1e-6);
}

/// EA-4/02, example S2 (there in mg): 14.4 comes from three readings; by numpy 2.4.6.
#[test]
fn few_readings_limit_the_degrees_of_freedom() {
    let mut budget = budget(&[22.5, 8.95, 14.4, 5.77, 5.77].map(|u| (u, Distribution::Standard)));
    assert_eq!(budget.effective_freedom(), None);
    budget.lines[2].freedom = Some(2.0);
    close(budget.combined().get(), 29.330_842, 1e-6);
    close(budget.effective_freedom().unwrap(), 34.425_334, 1e-6);
}

/// A level relative to the carrier: 0.3 dB common to both, 0.4 dB in each; sqrt(2) * 0.4 by numpy 2.4.6.
#[test]
fn what_two_readings_share_cancels() {
    let one = |repeat: &str, level: f64| Budget {
        lines: vec![
            Contribution::new("level", Db::new(level), Distribution::Standard, "analyser.yaml"),
            Contribution::new(repeat, Db::new(0.4), Distribution::Standard, "repeats"),
        ],
    };
    let shared = |line: &Contribution| line.name == "level";
    let ratio = one("repeat", 0.3).of_difference(&one("repeat", 0.3), shared);
    close(ratio.combined().get(), 0.565_69, 1e-5);
    // One cause of two sizes leaves their difference: sqrt(0.1^2 + 2 * 0.4^2).
    let ratio = one("repeat", 0.3).of_difference(&one("repeat", 0.2), shared);
    close(ratio.combined().get(), 0.574_456, 1e-6);
    // Nothing shared: sqrt(2 * 0.2^2 + 2 * 0.4^2).
    let unlike = one("repeat", 0.2).of_difference(&one("repeat", 0.2), |_| false);
    close(unlike.combined().get(), 0.632_456, 1e-6);
}

fn any_line() -> impl Strategy<Value = (f64, Distribution)> {
    let kind = prop_oneof![
        (1.0..3.0f64).prop_map(|k| Distribution::Normal { k }),
        Just(Distribution::Rectangular),
        Just(Distribution::UShaped),
        Just(Distribution::Triangular),
        Just(Distribution::Standard),
    ];
    (0.0..5.0f64, kind)
}

proptest! {
    #[test]
    fn a_budget_is_between_its_largest_line_and_the_plain_sum(
        lines in prop::collection::vec(any_line(), 1..12)
    ) {
        let budget = budget(&lines);
        let standards: Vec<f64> = budget.lines.iter().map(|line| line.standard().get()).collect();
        let largest = standards.iter().copied().fold(0.0, f64::max);
        let combined = budget.combined().get();
        prop_assert!(combined >= largest * (1.0 - 1e-12));
        prop_assert!(combined <= standards.iter().sum::<f64>() * (1.0 + 1e-12));
    }
}
