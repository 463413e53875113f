//! Where the carrier, or its first sidebands, vanish: a deviation by counting, without any level.

use std::f64::consts::PI;

use spurline_units::{Db, Hertz};

use super::{bessel, root};

/// The modulation index at which the carrier vanishes for the `n`th time, counted from 1.
#[must_use]
pub fn carrier_null(n: u32) -> f64 {
    null(0, n)
}

/// The same for the first pair of sidebands; that they vanish without modulation does not count.
#[must_use]
pub fn side_null(n: u32) -> f64 {
    null(1, n)
}

/// A zero lies close to (n + order/2 - 1/4) π, and the next one almost π further.
fn null(order: u32, n: u32) -> f64 {
    let near = (f64::from(n.max(1)) + f64::from(order) / 2.0 - 0.25) * PI;
    root(|index| bessel(order, index), near - 0.5, near + 0.5)
}

/// The tone with which a deviation makes the carrier vanish for the `n`th time.
#[must_use]
pub fn tone_for_null(deviation: Hertz, n: u32) -> Hertz {
    deviation / carrier_null(n)
}

/// Between which indices the carrier is at least so far below itself without modulation, around its `n`th null.
///
/// `None` if that is so little that the carrier is nowhere stronger on the way to the null before or after.
#[must_use]
pub fn index_near_null(below: Db, n: u32) -> Option<(f64, f64)> {
    let most = (-below).amplitude_ratio();
    let at = carrier_null(n);
    let excess = |index: f64| bessel(0, index).abs() - most;
    // The extremes to both sides are the zeros of J1; before the first null it is no modulation at all.
    let (before, after) = (if n <= 1 { 0.0 } else { side_null(n - 1) }, side_null(n));
    if excess(before) <= 0.0 || excess(after) <= 0.0 {
        return None;
    }
    Some((root(excess, before, at), root(excess, at, after)))
}
