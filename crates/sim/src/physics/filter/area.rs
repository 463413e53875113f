//! The area under a filter's skirt, in closed form: what an averaging detector sees of a line that is swept past.

use std::f64::consts::{FRAC_PI_2, LN_2};

use super::{Shape, half_power};

/// Area under the skirt between two offsets, everything counted in bandwidths.
pub(super) fn between(shape: Shape, low: f64, high: f64) -> f64 {
    if low >= 0.0 {
        beyond(shape, low) - beyond(shape, high)
    } else if high <= 0.0 {
        beyond(shape, -high) - beyond(shape, -low)
    } else {
        2.0 * whole(shape) - beyond(shape, high) - beyond(shape, -low)
    }
}

/// Area from the centre to infinity.
pub(super) fn whole(shape: Shape) -> f64 {
    match shape {
        Shape::Gaussian => (std::f64::consts::PI / LN_2).sqrt() / 4.0,
        Shape::FlatTop => GAMMA_OF_FIVE_QUARTERS * LN_2.powf(-0.25) / 2.0,
        Shape::FourPole | Shape::FivePole => {
            let poles = shape.poles().expect("both are made of poles");
            whole_of_poles(poles) / (2.0 * half_power(poles))
        }
    }
}

/// Γ(5/4), half the integral of exp(-x⁴) over all x (Abramowitz and Stegun, 6.1.10).
const GAMMA_OF_FIVE_QUARTERS: f64 = 0.906_402_477_055_477;

/// The integral of (1 + x²)^-n from 0 to infinity.
pub(super) fn whole_of_poles(n: i32) -> f64 {
    (1..n).fold(FRAC_PI_2, |area, k| area * f64::from(2 * k - 1) / f64::from(2 * k))
}

/// Area from an offset of at least zero to infinity.
fn beyond(shape: Shape, offset: f64) -> f64 {
    let x = 2.0 * offset;
    match shape {
        Shape::Gaussian => whole(shape) * libm::erfc(LN_2.sqrt() * x),
        Shape::FlatTop => beyond_of_fourth_power(LN_2.powf(0.25) * x) * LN_2.powf(-0.25) / 2.0,
        Shape::FourPole | Shape::FivePole => {
            let poles = shape.poles().expect("both are made of poles");
            let corner = half_power(poles);
            beyond_of_poles(poles, x * corner) / (2.0 * corner)
        }
    }
}

/// The integral of (1 + x²)^-n from `x` to infinity.
fn beyond_of_poles(n: i32, x: f64) -> f64 {
    let square = x * x;
    if x > FAR {
        // (1 + x²)^-n is x^-2n times a power series in x^-2.
        let mut term = 1.0;
        let mut sum = 0.0;
        for k in 0..TERMS {
            sum += term / f64::from(2 * n + 2 * k - 1);
            term *= -f64::from(n + k) / (f64::from(k + 1) * square);
        }
        return sum * x.powi(1 - 2 * n);
    }
    // I(n + 1) = (2 n - 1) / (2 n) I(n) - x / (2 n (1 + x²)^n), from the derivative of x (1 + x²)^-n.
    let mut area = FRAC_PI_2 - x.atan();
    let mut power = 1.0;
    for k in 1..n {
        power /= 1.0 + square;
        area = f64::from(2 * k - 1) / f64::from(2 * k) * area - x * power / f64::from(2 * k);
    }
    area
}

/// From here on the series in 1 / x² has settled after so many terms, and the closed form begins to cancel.
const FAR: f64 = 3.0;
const TERMS: i32 = 24;

/// The integral of exp(-x⁴) from `x` to infinity.
fn beyond_of_fourth_power(x: f64) -> f64 {
    let z = x.powi(4);
    if z > STEEP {
        // Integration by parts, again and again, in falling powers of z.
        let first = (-z).exp() * x / (4.0 * z);
        return first * (1.0 - 0.75 / z * (1.0 - 1.75 / z * (1.0 - 2.75 / z * (1.0 - 3.75 / z))));
    }
    let (mut term, mut sum) = (x, x);
    for k in 1..60 {
        term *= -z / f64::from(k);
        sum += term / f64::from(4 * k + 1);
    }
    GAMMA_OF_FIVE_QUARTERS - sum
}

const STEEP: f64 = 12.0;
