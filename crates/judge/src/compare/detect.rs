//! Which shift would have been seen: the power of Student's test, by the noncentral t distribution.

use std::f64::consts::{LN_2, PI};

use crate::normal::{normal_cdf, normal_quantile};
use crate::student::student_quantile;

/// From here on the scatter is as good as known.
const AS_KNOWN: f64 = 1e5;
/// Parts of the range that is integrated over, at least and at most.
const PARTS: [usize; 2] = [400, 20_000];
/// With fewer degrees of freedom the density begins with a corner, and more parts are taken.
const CORNERED: f64 = 4.0;
const CORNERED_PARTS: usize = 2_000;

/// How an estimate of a standard deviation scatters about the true one: places, as a share of it, and their weights.
struct Estimates(Vec<(f64, f64)>);

impl Estimates {
    /// `steep` is the largest factor that a place will be multiplied with.
    fn new(freedom: f64, steep: f64) -> Self {
        let spread = (0.5 / freedom).sqrt();
        let (low, high) = ((1.0 - 9.0 * spread).max(0.0), 1.0 + 12.0 * spread);
        let least = if freedom < CORNERED { CORNERED_PARTS } else { PARTS[0] };
        let parts = ((20.0 * steep.abs() * (high - low)) as usize).clamp(least, PARTS[1]) / 2 * 2;
        let step = (high - low) / parts as f64;
        let half = 0.5 * freedom;
        // The density of the root of chi-square over its freedom.
        let scale = LN_2 + half * half.ln() - libm::lgamma(half);
        let density = |at: f64| (scale + (freedom - 1.0) * at.ln() - half * at * at).exp();
        let weighed = (0..=parts).filter_map(|place| {
            let at = low + step * place as f64;
            let simpson = if place == 0 || place == parts {
                1.0
            } else if place % 2 == 1 {
                4.0
            } else {
                2.0
            };
            // With one degree of freedom an estimate of nothing is as likely as others near it.
            let at_density = if at > 0.0 { density(at) } else { density(step * 1e-9) };
            (at_density > 0.0).then_some((at, at_density * simpson * step / 3.0))
        });
        Self(weighed.collect())
    }

    /// The chance that a true shift, in its standard uncertainties, is called one to either side by this critical value.
    fn power(&self, shift: f64, critical: f64) -> f64 {
        let of = |(at, weight): &(f64, f64)| {
            weight * (normal_cdf(shift - critical * at) + normal_cdf(-shift - critical * at))
        };
        self.0.iter().map(of).sum()
    }

    /// How fast that chance grows with the shift.
    fn steepness(&self, shift: f64, critical: f64) -> f64 {
        let of = |(at, weight): &(f64, f64)| {
            weight * (normal_pdf(shift - critical * at) - normal_pdf(-shift - critical * at))
        };
        self.0.iter().map(of).sum()
    }
}

/// The chance that a true shift of `shift` standard uncertainties, which are estimated with `freedom` degrees of freedom,
/// is called one by a two-sided test with a risk of a false alarm of `risk`; `None` unless 0 < `risk` < 1 and
/// `freedom` >= 1.
#[must_use]
pub fn power_of(shift: f64, freedom: f64, risk: f64) -> Option<f64> {
    let critical = critical(freedom, risk)?;
    if freedom > AS_KNOWN {
        return Some(known(shift, critical));
    }
    Some(Estimates::new(freedom, critical).power(shift, critical))
}

/// The smallest true shift, in standard uncertainties, that is called one with probability `power` by a two-sided test
/// with a risk of a false alarm of `risk`; `None` unless 0 < `risk` < `power` < 1 and `freedom` >= 1.
#[must_use]
pub fn detectable(freedom: f64, risk: f64, power: f64) -> Option<f64> {
    let critical = critical(freedom, risk)?;
    // Also refuses what is no number.
    if !(risk < power && power < 1.0) {
        return None;
    }
    let estimates = (freedom <= AS_KNOWN).then(|| Estimates::new(freedom, critical));
    let lacks = |shift: f64| match &estimates {
        Some(estimates) => power - estimates.power(shift, critical),
        None => power - known(shift, critical),
    };
    let steepness = |shift: f64| match &estimates {
        Some(estimates) => estimates.steepness(shift, critical),
        None => normal_pdf(shift - critical) - normal_pdf(-shift - critical),
    };
    // Where it would be if the scatter were known: from there Newton's steps are few, and halves where one leads out.
    let mut shift = (critical + normal_quantile(power)?).max(0.5);
    let (mut low, mut high) = (0.0, f64::INFINITY);
    for _ in 0..200 {
        let lack = lacks(shift);
        if lack > 0.0 {
            low = shift
        } else {
            high = shift
        }
        let mut next = shift + lack / steepness(shift);
        if !(low < next && next < high) {
            next = if high.is_finite() { 0.5 * (low + high) } else { 2.0 * shift };
        }
        let step = (next - shift).abs();
        shift = next;
        if step < 1e-10 * shift || shift > 1e9 {
            break;
        }
    }
    Some(shift)
}

fn normal_pdf(at: f64) -> f64 {
    (-0.5 * at * at).exp() / (2.0 * PI).sqrt()
}

fn critical(freedom: f64, risk: f64) -> Option<f64> {
    if freedom.is_nan() || freedom < 1.0 {
        return None;
    }
    student_quantile(1.0 - 0.5 * risk, freedom)
}

fn known(shift: f64, critical: f64) -> f64 {
    normal_cdf(shift - critical) + normal_cdf(-shift - critical)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// statsmodels 0.15.0: `TTestIndPower().solve_power(nobs1=n, alpha=0.05, power=p)` for n repeats on each side, in
    /// standard deviations of one repeat.
    #[test]
    fn the_smallest_shift_that_is_seen() {
        for (n, ninety, eighty) in [
            (3.0, 3.589, 3.071),
            (5.0, 2.348, 2.024),
            (7.0, 1.890, 1.632),
            (10.0, 1.534, 1.325),
            (20.0, 1.052, 0.909),
        ] {
            for (power, expected) in [(0.9, ninety), (0.8, eighty)] {
                let shift = detectable(2.0 * n - 2.0, 0.05, power).unwrap() * f64::sqrt(2.0 / n);
                assert!((shift - expected).abs() < 6e-4 * expected, "{n}, {power}: {shift}");
            }
        }
    }

    /// scipy 1.17.1: `1 - nct.cdf(t.ppf(1 - a / 2, v), v, d) + nct.cdf(-t.ppf(1 - a / 2, v), v, d)`.
    #[test]
    fn powers() {
        for (shift, freedom, risk, expected) in POWERS {
            let found = power_of(shift, freedom, risk).unwrap();
            assert!((found - expected).abs() < 1e-6, "{shift}, {freedom}, {risk}: {found}");
        }
        for shift in [0.0, 1e-9] {
            assert!((power_of(shift, 7.0, 0.01).unwrap() - 0.01).abs() < 1e-8);
        }
        assert_eq!([power_of(1.0, 0.5, 0.05), power_of(1.0, 5.0, 0.0), detectable(5.0, 0.5, 0.4)], [None; 3]);
    }

    const POWERS: [(f64, f64, f64, f64); 5] = [
        (1.0, 1.0, 0.05, 0.072_988_894),
        (3.0, 4.0, 0.05, 0.619_261_459),
        (5.0, 8.3, 0.005, 0.836_336_062),
        (6.0, 2.0, 0.05, 0.835_738_120),
        (3.5, 1e6, 0.01, 0.822_299_765),
    ];
}
