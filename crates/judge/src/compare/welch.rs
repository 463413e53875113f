//! Two samples with scatters of their own: Welch's test.

use crate::student::{student_cdf, student_quantile};

/// What a set of repeats came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// How many.
    pub count: u32,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, with one degree of freedom less than there are repeats.
    pub deviation: f64,
}

impl Sample {
    /// The sample of some figures; `None` for fewer than two.
    #[must_use]
    pub fn of(figures: &[f64]) -> Option<Self> {
        if figures.len() < 2 {
            return None;
        }
        let count = figures.len() as f64;
        let mean = figures.iter().sum::<f64>() / count;
        let squares = figures.iter().map(|figure| (figure - mean).powi(2)).sum::<f64>();
        let deviation = (squares / (count - 1.0)).sqrt();
        Some(Self { count: figures.len() as u32, mean, deviation })
    }

    /// The variance of the mean, and its degrees of freedom.
    fn of_mean(&self) -> (f64, f64) {
        let count = f64::from(self.count);
        (self.deviation.powi(2) / count, count - 1.0)
    }
}

/// What Welch's test says of two samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Welch {
    /// The second mean less the first.
    pub shift: f64,
    /// The first mean less the second, over its standard uncertainty.
    pub t: f64,
    /// Effective degrees of freedom.
    pub freedom: f64,
    /// The chance of a shift as large by nothing but scatter, to both sides.
    pub p: f64,
    /// Where the shift lies with the probability that was asked for.
    pub interval: [f64; 2],
}

/// Holds two samples against each other; `within` is the probability of the interval. `None` where nothing scatters.
#[must_use]
pub fn welch(before: Sample, after: Sample, within: f64) -> Option<Welch> {
    let ((one, one_freedom), (other, other_freedom)) = (before.of_mean(), after.of_mean());
    let variance = one + other;
    if variance.is_nan() || variance <= 0.0 {
        return None;
    }
    let freedom = variance.powi(2) / (one.powi(2) / one_freedom + other.powi(2) / other_freedom);
    let shift = after.mean - before.mean;
    let t = -shift / variance.sqrt();
    let reach = student_quantile(0.5 + 0.5 * within, freedom)? * variance.sqrt();
    Some(Welch {
        shift,
        t,
        freedom,
        p: 2.0 * student_cdf(-t.abs(), freedom),
        interval: [shift - reach, shift + reach],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: [f64; 5] = [37.02, 37.05, 36.98, 37.04, 37.01];
    const AFTER: [f64; 5] = [36.91, 36.95, 36.90, 36.96, 36.93];

    /// scipy 1.17.1: `stats.ttest_ind(before, after, equal_var=False)` and its `confidence_interval()`.
    #[test]
    fn two_samples_by_welch() {
        let (before, after) = (Sample::of(&BEFORE).unwrap(), Sample::of(&AFTER).unwrap());
        assert!((before.deviation - 0.027_386).abs() < 1e-6 && (after.deviation - 0.025_495).abs() < 1e-6);
        let found = welch(before, after, 0.95).unwrap();
        assert!((found.shift - -0.09).abs() < 1e-12);
        assert!((found.t - 5.378_5).abs() < 1e-4 && (found.freedom - 7.959_4).abs() < 1e-4, "{found:?}");
        assert!((found.p - 6.742e-4).abs() < 1e-7, "{found:?}");
        assert!((found.interval[0] - -0.128_6).abs() < 1e-4 && (found.interval[1] - -0.051_4).abs() < 1e-4);
    }

    #[test]
    fn what_does_not_scatter_cannot_be_tested() {
        let still = Sample { count: 3, mean: 1.0, deviation: 0.0 };
        assert_eq!(welch(still, still, 0.95), None);
        assert_eq!(Sample::of(&[1.0]), None);
    }
}
