//! Student's t for any degrees of freedom above zero: probability, density and quantile.

use std::f64::consts::PI;

use crate::normal::{normal_cdf, normal_quantile};

/// From here on the normal distribution is told from Student's by less than a grid shows.
const AS_NORMAL: f64 = 1e7;
/// Up to here whole degrees of freedom have a short sum of their own.
const SHORT_SUM: f64 = 60.0;

/// The probability that Student's t with `freedom` degrees of freedom, above zero, lies below `t`.
#[must_use]
pub fn student_cdf(t: f64, freedom: f64) -> f64 {
    if freedom > AS_NORMAL {
        return normal_cdf(t);
    }
    if t.abs() < 3.0 && is_short(freedom) {
        return 0.5 + 0.5 * between(t, freedom);
    }
    // A tail as such, so that a small probability keeps its digits.
    let tail = 0.5 * incomplete_beta(freedom / (freedom + t * t), 0.5 * freedom, 0.5);
    if t < 0.0 { tail } else { 1.0 - tail }
}

/// The same as [`student_cdf`] and fast, but right to some 16 decimals instead of digits.
pub(crate) fn student_cdf_to_decimals(t: f64, freedom: f64) -> f64 {
    if is_short(freedom) { 0.5 + 0.5 * between(t, freedom) } else { student_cdf(t, freedom) }
}

fn is_short(freedom: f64) -> bool {
    freedom.fract() == 0.0 && freedom <= SHORT_SUM
}

/// The density of Student's t, so scaled that the distribution has the whole probability one.
pub(crate) fn student_pdf(t: f64, freedom: f64) -> f64 {
    let scale = libm::lgamma(0.5 * (freedom + 1.0)) - libm::lgamma(0.5 * freedom) - 0.5 * (freedom * PI).ln();
    (scale - 0.5 * (freedom + 1.0) * (t * t / freedom).ln_1p()).exp()
}

/// The value below which Student's t lies with probability `p`; `None` unless 0 < `p` < 1 and `freedom` is above
/// zero.
#[must_use]
pub fn student_quantile(p: f64, freedom: f64) -> Option<f64> {
    let z = normal_quantile(p).filter(|_| freedom > 0.0)?;
    if p == 0.5 {
        return Some(0.0);
    }
    if freedom > AS_NORMAL {
        return Some(z);
    }
    // Downwards only: the lower tail keeps its digits.
    let tail = p.min(1.0 - p);
    let (mut low, mut high) = (-z.abs() * 2.0 - 1.0, -z.abs());
    while student_cdf(low, freedom) > tail && low > -1e300 {
        high = low;
        low *= 4.0;
    }
    // In the logarithm of the value, for with few degrees of freedom it spans hundreds of decades.
    let (mut near, mut far) = ((-high).max(f64::MIN_POSITIVE).ln(), (-low).ln());
    for _ in 0..100 {
        let middle = 0.5 * (near + far);
        if student_cdf(-middle.exp(), freedom) > tail { near = middle } else { far = middle }
    }
    Some((0.5 * (near + far)).exp().copysign(z))
}

/// The probability between -`t` and `t`, with the sign of `t` (Abramowitz and Stegun, 26.7.3 and 26.7.4).
fn between(t: f64, n: f64) -> f64 {
    let root = (n + t * t).sqrt();
    let (sine, cosine) = (t / root, n.sqrt() / root);
    let square = cosine * cosine;
    let even = n % 2.0 == 0.0;
    let (mut term, mut k) = if even { (1.0, 2.0) } else { (cosine, 3.0) };
    let mut sum = if n > 1.0 { term } else { 0.0 };
    while k < n {
        term *= square * (k - 1.0) / k;
        sum += term;
        k += 2.0;
    }
    if even { sine * sum } else { 2.0 / PI * ((t / n.sqrt()).atan() + sine * sum) }
}

/// The regularised incomplete beta function by its continued fraction (Lentz's method, as in DLMF 8.17.22).
fn incomplete_beta(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - incomplete_beta(1.0 - x, b, a);
    }
    let front =
        (a * x.ln() + b * (-x).ln_1p() + libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b)).exp() / a;
    let never_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let (mut c, mut d) = (1.0, 1.0 / never_zero(1.0 - (a + b) * x / (a + 1.0)));
    let mut fraction = d;
    for m in 1..2000 {
        let m = f64::from(m);
        for numerator in [
            m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0)),
        ] {
            d = 1.0 / never_zero(1.0 + numerator * d);
            c = never_zero(1.0 + numerator / c);
            fraction *= c * d;
        }
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    front * fraction
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// scipy 1.17.1: `stats.t.cdf`.
    #[test]
    fn probabilities() {
        for (t, freedom, expected) in [
            (-40.0, 1.0, 0.007_956_089_912_025_812),
            (-2.5, 1.0, 0.121_118_941_590_843_41),
            (0.7, 2.0, 0.721_803_487_683_567_3),
            (-3.1, 3.0, 0.026_647_772_307_168_04),
            (2.0, 4.0, 0.941_941_738_241_592_2),
            (1.1, 9.0, 0.850_058_619_071_606_9),
            (-6.0, 18.0, 5.634_985_553_003_927_5e-6),
            (2.2, 50.0, 0.983_771_862_802_047_4),
            (-2.0, 16.75, 0.030_992_614_996_697_94),
            (3.0, 2.5, 0.963_711_952_225_484_1),
            (-50.0, 0.7, 0.020_100_911_026_148_81),
            (2.0, 300.0, 0.976_799_239_508_425_4),
        ] {
            let found = student_cdf(t, freedom);
            assert!((found / expected - 1.0).abs() < 1e-11, "{t}, {freedom}: {found}");
            assert!((student_cdf_to_decimals(t, freedom) - expected).abs() < 1e-13, "{t}, {freedom}");
        }
    }

    /// scipy 1.17.1: `stats.t.pdf`.
    #[test]
    fn densities() {
        for (t, freedom, expected) in [
            (0.7, 2.0, 0.254_507_731_134_328_5),
            (-2.0, 16.75, 0.058_752_682_077_303_164),
            (-50.0, 0.7, 0.000_281_363_154_038_830_65),
        ] {
            assert!((student_pdf(t, freedom) / expected - 1.0).abs() < 1e-12, "{t}, {freedom}");
        }
    }

    /// scipy 1.17.1: `stats.t.ppf`. 12.71, 4.30 and 2.78 are in every table of t.
    #[test]
    fn quantiles() {
        for (p, freedom, expected) in [
            (0.975, 1.0, 12.706_204_736_174_694),
            (0.975, 2.0, 4.302_652_729_749_462),
            (0.975, 4.0, 2.776_445_105_197_793_4),
            (0.975, 10.0, 2.228_138_851_986_274),
            (0.995, 16.0, 2.920_781_622_425_1),
            (0.995, 16.75, 2.903_588_053_212_559),
            (0.025, 50.0, -2.008_559_112_100_761),
            (0.975, 60.0, 2.000_297_822_014_260_4),
            (1e-6, 3.0, -103.299_467_780_419_35),
            (0.9, 2.5, 1.730_250_928_807_176_6),
            (0.6, 1e4, 0.253_353_843_445_727),
        ] {
            let found = student_quantile(p, freedom).unwrap();
            assert!((found / expected - 1.0).abs() < 1e-11, "{p}, {freedom}: {found}");
        }
        assert_eq!(student_quantile(0.5, 3.0), Some(0.0));
        assert_eq!(
            [(0.0, 3.0), (1.0, 3.0), (0.3, 0.0), (0.3, f64::NAN)].map(|(p, n)| student_quantile(p, n)),
            [None; 4]
        );
    }

    proptest! {
        #[test]
        fn quantile_undoes_probability(t in -8.0..4.0f64, freedom in 0.5..400.0f64) {
            let back = student_quantile(student_cdf(t, freedom), freedom).unwrap();
            prop_assert!((back - t).abs() < 1e-6 * (1.0 + t.abs()));
        }
    }
}
