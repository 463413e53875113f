//! The sum of one and a smaller phasor of unknown phase, in dB: mismatch and coherent products alike.

use std::f64::consts::{LN_10, PI, SQRT_2};

const IN_DB: f64 = 20.0 / LN_10;

/// The most by which a phasor of magnitude `r` lifts the sum, in dB.
pub(crate) fn above(r: f64) -> f64 {
    IN_DB * r.ln_1p()
}

/// The standard deviation of 20 log10|1 + r e^(j phi)| in dB for 0 <= `r` <= 1 and a phase that is anywhere.
pub(crate) fn standard(r: f64) -> f64 {
    // ln|1 + r e^(j phi)| is the sum of -(-r)^n cos(n phi) / n; over a full turn its mean is zero and its
    // mean square half the dilogarithm of r^2.
    IN_DB * (0.5 * dilogarithm(r * r)).sqrt()
}

/// What [`above`] is divided by to give [`standard`].
pub(crate) fn divisor(r: f64) -> f64 {
    let r = clamped(r);
    if r < 1e-9 { SQRT_2 } else { above(r) / standard(r) }
}

/// A product of magnitudes, brought within 0 to 1; what is no number counts as none.
pub(crate) fn clamped(r: f64) -> f64 {
    if r.is_nan() { 0.0 } else { r.clamp(0.0, 1.0) }
}

/// The dilogarithm of `x`, the sum of x^n / n^2, for 0 <= `x` <= 1.
fn dilogarithm(x: f64) -> f64 {
    if x >= 1.0 {
        PI * PI / 6.0
    } else if x > 0.5 {
        // Euler's reflection: the series converges too slowly near one.
        PI * PI / 6.0 - x.ln() * (-x).ln_1p() - dilogarithm(1.0 - x)
    } else {
        // 0.5^48 / 48^2 is below the last bit of the sum.
        (1..=48).rev().map(|n| x.powi(n) / f64::from(n * n)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
    }

    /// scipy 1.17.1: `special.spence(1 - x)`.
    #[test]
    fn dilogarithms() {
        for (x, expected) in [
            (0.0, 0.0),
            (0.1, 0.102_617_791_099_391_1),
            (0.5, 0.582_240_526_465_013_5),
            (0.75, 0.978_469_392_930_305_9),
            (0.99, 1.588_625_448_076_375_3),
            (1.0, 1.644_934_066_848_226_4),
        ] {
            close(dilogarithm(x), expected, 1e-14);
        }
    }

    /// A small echo is a sine in dB, whose divisor is the square root of two (EA-4/02).
    #[test]
    fn a_small_echo_is_a_sine() {
        close(divisor(0.0), SQRT_2, 1e-12);
        close(divisor(1e-8), SQRT_2, 1e-7);
        close(divisor(f64::NAN), SQRT_2, 1e-12);
    }
}
