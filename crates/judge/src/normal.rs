//! The standard normal distribution: probability below a value, and the value at a probability.

use std::f64::consts::{PI, SQRT_2};

/// The probability that a standard normal variable lies below `z`.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    // Through `erfc` and not `1 - erf`, so that small probabilities keep their digits.
    0.5 * libm::erfc(-z / SQRT_2)
}

/// The value below which a standard normal variable lies with probability `p`; `None` unless 0 < `p` < 1.
#[must_use]
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    // The lower half only: near one, `1 - p` is exact while the probability itself is not.
    Some(if p > 0.5 { -lower_quantile(1.0 - p) } else { lower_quantile(p) })
}

/// The quantile for 0 < `p` <= 0.5.
fn lower_quantile(p: f64) -> f64 {
    // Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.23: within 4.5e-4, enough to start from.
    let t = (-2.0 * p.ln()).sqrt();
    let top = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let bottom = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    let mut z = top / bottom - t;
    // Halley's step triples the digits: two reach the last one, the third costs nothing.
    for _ in 0..3 {
        let density = (-0.5 * z * z).exp() / (2.0 * PI).sqrt();
        if density == 0.0 {
            break;
        }
        let step = (normal_cdf(z) - p) / density;
        z -= step / (1.0 + 0.5 * z * step);
    }
    z
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// scipy 1.17.1: `stats.norm.cdf`.
    #[test]
    fn probabilities_keep_their_digits_in_the_tail() {
        for (z, expected) in [
            (-10.0, 7.619_853_024_160_47e-24),
            (-3.0, 0.001_349_898_031_630_093_3),
            (-1.0, 0.158_655_253_931_457_07),
            (0.0, 0.5),
            (0.5, 0.691_462_461_274_013_1),
            (2.0, 0.977_249_868_051_820_8),
            (5.0, 0.999_999_713_348_428_1),
        ] {
            assert!((normal_cdf(z) / expected - 1.0).abs() < 1e-13, "{z}");
        }
    }

    /// scipy 1.17.1: `stats.norm.ppf`.
    #[test]
    fn quantiles() {
        for (p, expected) in [
            (1e-300, -37.047_096_299_361_2),
            (1e-12, -7.034_483_825_301_131),
            (1e-6, -4.753_424_308_822_899),
            (0.05, -1.644_853_626_951_472_9),
            (0.3, -0.524_400_512_708_041),
            (0.8, 0.841_621_233_572_914_3),
            (0.975, 1.959_963_984_540_054),
            (0.999, 3.090_232_306_167_813),
        ] {
            let z = normal_quantile(p).unwrap();
            assert!((z - expected).abs() < 1e-12 * (1.0 + expected.abs()), "{p}: {z}");
        }
        assert_eq!([0.0, 1.0, -0.1, f64::NAN].map(normal_quantile), [None; 4]);
    }

    /// The risk of accepting at the acceptance limit `T - w`, for w = U, 0.83 U and none, with U = 2 u:
    /// published as under 2.5 %, under 5 % and 50 % (ILAC-G8:09/2019); digits by scipy 1.17.1 `stats.norm.sf`.
    #[test]
    fn risk_at_the_acceptance_limit() {
        for (share, risk) in [(1.0, 0.022_750_13), (0.83, 0.048_457_23), (0.0, 0.5)] {
            assert!((normal_cdf(-2.0 * share) - risk).abs() < 1e-8, "{share}");
        }
    }

    proptest! {
        #[test]
        fn quantile_undoes_probability(z in -8.0..5.0f64) {
            prop_assert!((normal_quantile(normal_cdf(z)).unwrap() - z).abs() < 1e-9);
        }
    }
}
