//! What a decision rule costs over many units: the risks of those who buy and of those who make them, before any is
//! measured (JCGM 106:2012, 9.5: global risks).
//!
//! All figures of one call are in one unit, whatever that is; what is made and the errors of measuring are normal.

use std::f64::consts::PI;

use crate::normal::normal_cdf;

/// What is known of the units before one is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Production {
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, above zero.
    pub deviation: f64,
}

/// From the lowest to the highest value, both included; infinite at an end that is open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
}

/// The chances of a wrong decision on a unit that nobody has looked at yet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlobalRisk {
    /// That it is out of tolerance and accepted.
    pub consumer: f64,
    /// That it is in tolerance and rejected.
    pub producer: f64,
    /// That it is out of tolerance at all.
    pub out_of_tolerance: f64,
}

/// How many standard deviations to either side count: beyond lies less than 1e-18.
const REACH: f64 = 9.0;
/// Panels between one edge and the next.
const PANELS: u32 = 24;
/// Abscissae and weights of Gauss's rule of five points (Abramowitz and Stegun, table 25.4).
const GAUSS: [(f64, f64); 3] = [
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

/// The risks when units in `tolerance` are wanted, and those that read within `acceptance` with standard uncertainty
/// `uncertainty` are taken.
#[must_use]
pub fn global_risk(
    production: Production,
    uncertainty: f64,
    tolerance: Interval,
    acceptance: Interval,
) -> GlobalRisk {
    let Production { mean, deviation } = production;
    let accepted = |value: f64| {
        let below = |distance: f64| chance_below(distance, uncertainty);
        // From the nearer tail, so that a small chance keeps its digits.
        if value > 0.5 * (acceptance.low + acceptance.high) {
            below(acceptance.high - value) - below(acceptance.low - value)
        } else {
            below(value - acceptance.low) - below(value - acceptance.high)
        }
    };
    let made =
        |value: f64| (-0.5 * ((value - mean) / deviation).powi(2)).exp() / (deviation * (2.0 * PI).sqrt());
    let (least, most) = (mean - REACH * deviation, mean + REACH * deviation);
    // Acceptance changes within a few uncertainties of its limits, which may be narrow against all that is made.
    let mut edges = vec![least, most];
    for limit in [acceptance.low, acceptance.high] {
        edges.extend([-REACH, -3.0, 0.0, 3.0, REACH].map(|times| limit + times * uncertainty));
    }
    edges.extend([tolerance.low, tolerance.high]);
    edges.retain(|edge| (least..=most).contains(edge));
    edges.sort_by(f64::total_cmp);

    let mut risk = GlobalRisk {
        consumer: 0.0,
        producer: 0.0,
        out_of_tolerance: normal_cdf((tolerance.low - mean) / deviation)
            + normal_cdf((mean - tolerance.high) / deviation),
    };
    for pair in edges.windows(2) {
        let middle = 0.5 * (pair[0] + pair[1]);
        if (tolerance.low..=tolerance.high).contains(&middle) {
            risk.producer += integral(pair[0], pair[1], |value| made(value) * (1.0 - accepted(value)));
        } else {
            risk.consumer += integral(pair[0], pair[1], |value| made(value) * accepted(value));
        }
    }
    risk
}

/// The chance that a normal error is below `distance`; a step without uncertainty.
fn chance_below(distance: f64, uncertainty: f64) -> f64 {
    if uncertainty > 0.0 {
        normal_cdf(distance / uncertainty)
    } else if distance >= 0.0 {
        1.0
    } else {
        0.0
    }
}

fn integral(from: f64, to: f64, of: impl Fn(f64) -> f64) -> f64 {
    let half = 0.5 * (to - from) / f64::from(PANELS);
    let panel = |index: u32| {
        let middle = from + half * f64::from(2 * index + 1);
        let pair = |(way, weight): (f64, f64)| {
            weight * if way == 0.0 { of(middle) } else { of(middle - half * way) + of(middle + half * way) }
        };
        GAUSS.map(pair).iter().sum::<f64>()
    };
    half * (0..PANELS).map(panel).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const RESISTORS: Production = Production { mean: 1500.0, deviation: 0.12 };

    fn about(half: f64) -> Interval {
        Interval { low: 1500.0 - half, high: 1500.0 + half }
    }

    /// JCGM 106:2012, 9.5.4: resistors of 1500 ohm within 0.2 ohm, process 0.12 ohm, u = 0.04 ohm; further digits by
    /// scipy 1.17.1 `integrate.quad`.
    #[test]
    fn resistors() {
        for (half, consumer, producer) in [(0.2, 0.018_94, 0.037_21), (0.18, 0.009_88, 0.069_03)] {
            let risk = global_risk(RESISTORS, 0.04, about(0.2), about(half));
            assert!((risk.consumer - consumer).abs() < 1e-5, "{risk:?}");
            assert!((risk.producer - producer).abs() < 1e-5, "{risk:?}");
            assert!((risk.out_of_tolerance - 0.095_581).abs() < 1e-6, "{risk:?}");
        }
    }

    #[test]
    fn a_perfect_measurement_is_never_wrong() {
        let risk = global_risk(RESISTORS, 0.0, about(0.2), about(0.2));
        assert!(risk.consumer < 1e-12 && risk.producer < 1e-12, "{risk:?}");
    }

    proptest! {
        /// With one limit and wide production the accepted share is that of the sum of two normal variables.
        #[test]
        fn shares_add_up(mean in -3.0..3.0f64, deviation in 0.1..3.0f64, u in 0.001..2.0f64, guard in -1.0..1.0f64) {
            let upper = |high| Interval { low: f64::NEG_INFINITY, high };
            let risk = global_risk(Production { mean, deviation }, u, upper(0.0), upper(-guard));
            let accepted = normal_cdf((-guard - mean) / deviation.hypot(u));
            let good_and_accepted = 1.0 - risk.out_of_tolerance - risk.producer;
            prop_assert!((good_and_accepted + risk.consumer - accepted).abs() < 1e-9);
        }
    }
}
