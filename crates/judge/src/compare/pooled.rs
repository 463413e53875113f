//! Several estimates of one scatter taken together, and how far one of them can be by chance.

use crate::normal::normal_quantile;

/// A variance and what it is known from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// The standard deviation.
    pub deviation: f64,
    /// Its degrees of freedom.
    pub freedom: f64,
}

/// Standard deviations of the same thing, each with its degrees of freedom, as one; `None` without any freedom.
#[must_use]
pub fn pooled(of: &[Pooled]) -> Option<Pooled> {
    let freedom: f64 = of.iter().map(|one| one.freedom).sum();
    if freedom.is_nan() || freedom <= 0.0 {
        return None;
    }
    // Freedom without end outweighs all the others.
    if freedom.is_infinite() {
        return of.iter().find(|one| one.freedom.is_infinite()).copied();
    }
    let sum: f64 = of.iter().map(|one| one.freedom * one.deviation.powi(2)).sum();
    Some(Pooled { deviation: (sum / freedom).sqrt(), freedom })
}

/// The value below which chi-square lies with probability `p`, by the cube root of Wilson and Hilferty: right to 2 % from
/// two degrees of freedom on for `p` from 0.9 to 0.99. `None` unless 0 < `p` < 1 and `freedom` is above zero.
#[must_use]
pub fn chi_square_quantile(p: f64, freedom: f64) -> Option<f64> {
    let z = normal_quantile(p).filter(|_| freedom > 0.0)?;
    let share = 2.0 / (9.0 * freedom);
    Some(freedom * (1.0 - share + z * share.sqrt()).max(0.0).powi(3))
}

/// What the range of so many normal figures is of their standard deviation, in the mean: d2. `None` for fewer than two.
#[must_use]
pub fn range_divisor(count: usize) -> Option<f64> {
    /// d2 of 2 to 10 figures, as every table of control charts has it.
    const D2: [f64; 9] = [1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078];
    (count >= 2).then(|| D2[(count - 2).min(D2.len() - 1)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(deviation: f64, freedom: f64) -> Pooled {
        Pooled { deviation, freedom }
    }

    /// numpy 2.4.6: sqrt((4 0.03^2 + 9 0.04^2 + 2 0.05^2) / 15).
    #[test]
    fn scatters_pool_by_their_freedom() {
        let found = pooled(&[one(0.03, 4.0), one(0.04, 9.0), one(0.05, 2.0)]).unwrap();
        assert!((found.deviation - 0.039_158).abs() < 1e-6 && found.freedom == 15.0, "{found:?}");
        let known = pooled(&[one(0.03, 4.0), one(0.1, f64::INFINITY)]).unwrap();
        assert_eq!(known, one(0.1, f64::INFINITY));
        assert_eq!(pooled(&[]), None);
    }

    /// scipy 1.17.1: `stats.chi2.ppf`.
    #[test]
    fn chi_square() {
        for (p, freedom, expected) in
            [(0.95, 1.0, 3.841), (0.95, 2.0, 5.991), (0.95, 4.0, 9.488), (0.99, 10.0, 23.209)]
        {
            let found = chi_square_quantile(p, freedom).unwrap();
            assert!((found / expected - 1.0).abs() < 0.025, "{p}, {freedom}: {found}");
        }
    }

    /// scipy 1.17.1, by integration: d2 of 5 is 2.3259.
    #[test]
    fn ranges() {
        assert_eq!(range_divisor(5), Some(2.326));
        assert_eq!(range_divisor(1), None);
    }
}
