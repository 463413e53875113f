//! What the lines of a carrier say about the tone that modulates it, and what a tone makes of a carrier.
//!
//! A tone in frequency of peak phase m makes lines n tones from the carrier with voltages J_n(m); one in voltage of
//! depth m makes one line on either side with m/2. Voltages are in whatever unit: only their ratios count.

mod depth;
mod null;
mod tone;

use spurline_units::Db;

pub use depth::{Depth, am_depth, power_rise, sideband_level};
pub use null::{carrier_null, index_near_null, side_null, tone_for_null};
pub use tone::{ModulatedLine, ToneFit, tone_index};

/// The level of the line `order` tones from a carrier of this modulation index, over the carrier without modulation.
#[must_use]
pub fn line_level(order: u32, index: f64) -> Db {
    Db::new(20.0 * bessel(order, index).abs().log10())
}

/// The Bessel function of the first kind.
fn bessel(order: u32, index: f64) -> f64 {
    libm::jn(i32::try_from(order).unwrap_or(i32::MAX), index)
}

/// Its derivative: J_0' is -J_1, J_n' is half of J_(n-1) - J_(n+1).
fn slope(order: u32, index: f64) -> f64 {
    match order {
        0 => -bessel(1, index),
        n => (bessel(n - 1, index) - bessel(n + 1, index)) / 2.0,
    }
}

/// Where a function changes its sign between two places.
fn root(of: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let rises = of(high) > of(low);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if (of(middle) > 0.0) == rises { high = middle } else { low = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests;
