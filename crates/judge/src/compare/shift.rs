//! A shift with its standard uncertainty: what it is worth, where it lies, and what would have been seen.

use crate::compare::detect::detectable;
use crate::student::{student_cdf, student_quantile};

/// One random part of a difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Random {
    /// What it adds to the variance of the difference.
    pub variance: f64,
    /// The degrees of freedom that it is known with; infinite if it is known.
    pub freedom: f64,
}

impl Random {
    /// A standard deviation that is known with some degrees of freedom.
    #[must_use]
    pub fn of(deviation: f64, freedom: f64) -> Self {
        Self { variance: deviation.powi(2), freedom }
    }

    /// All parts as one: the sum of their variances, with effective degrees of freedom by Welch and Satterthwaite.
    #[must_use]
    pub fn combined(parts: &[Self]) -> Self {
        let variance: f64 = parts.iter().map(|part| part.variance).sum();
        let known = parts.iter().filter(|part| part.variance > 0.0);
        let inverse: f64 = known.map(|part| part.variance.powi(2) / part.freedom).sum();
        let freedom = if inverse > 0.0 { variance.powi(2) / inverse } else { f64::INFINITY };
        Self { variance, freedom }
    }
}

/// A shift and its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// The later figure less the earlier one.
    pub shift: f64,
    /// Its standard uncertainty.
    pub standard: f64,
    /// Effective degrees of freedom.
    pub freedom: f64,
}

impl Shift {
    /// A shift with all that is random in it.
    #[must_use]
    pub fn of(shift: f64, parts: &[Random]) -> Self {
        let Random { variance, freedom } = Random::combined(parts);
        Self { shift, standard: variance.sqrt(), freedom }
    }

    /// The chance of a shift as large, to either side, if there is none.
    #[must_use]
    pub fn p(&self) -> f64 {
        // A rounding of the last digit must not make it more than sure.
        (2.0 * student_cdf(-(self.shift / self.standard).abs(), self.freedom)).min(1.0)
    }

    /// The chance of a shift as far up, if there is none or one down.
    #[must_use]
    pub fn p_up(&self) -> f64 {
        student_cdf(-self.shift / self.standard, self.freedom)
    }

    /// Where the shift lies but for a risk of `risk`, both sides together; `None` unless 0 < `risk` < 1.
    #[must_use]
    pub fn interval(&self, risk: f64) -> Option<[f64; 2]> {
        let reach = student_quantile(1.0 - 0.5 * risk, self.freedom)? * self.standard;
        Some([self.shift - reach, self.shift + reach])
    }

    /// The smallest true shift that would be called one with probability `power`, where `risk` is the risk of a false
    /// alarm. `None` unless both lie between 0 and 1.
    #[must_use]
    pub fn detectable(&self, risk: f64, power: f64) -> Option<f64> {
        detectable(self.freedom, risk, power).map(|times| times * self.standard)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What repeats do not average out: numpy 2.4.6, -0.09 / sqrt(0.02739^2/5 + 0.0255^2/5 + 2 0.05^2) is -1.236.
    #[test]
    fn a_cable_that_was_made_anew_hides_what_repeats_show() {
        let repeats = [Random::of(0.027_386 / 5f64.sqrt(), 4.0), Random::of(0.025_495 / 5f64.sqrt(), 4.0)];
        let straight = Shift::of(-0.09, &repeats);
        assert!((straight.shift / straight.standard - -5.378_5).abs() < 1e-3 && straight.p() < 0.001);
        assert!((straight.freedom - 7.959).abs() < 1e-3, "{straight:?}");
        let anew = [repeats[0], repeats[1], Random::of(0.05, f64::INFINITY), Random::of(0.05, f64::INFINITY)];
        let anew = Shift::of(-0.09, &anew);
        assert!((anew.shift / anew.standard - -1.236).abs() < 1e-2 && anew.p() > 0.2, "{anew:?}");
        let [low, high] = anew.interval(0.05).unwrap();
        assert!(low < -0.09 && high > 0.0);
        assert!((straight.p_up() - (1.0 - straight.p() / 2.0)).abs() < 1e-12);
    }

    #[test]
    fn nothing_random_is_known_for_sure() {
        let none = Random::combined(&[]);
        assert_eq!((none.variance, none.freedom), (0.0, f64::INFINITY));
    }
}
