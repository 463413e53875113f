//! The depth of amplitude modulation from its sidebands.

use spurline_units::Db;

/// A depth and how uncertain it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// From 0 to 1; more if the sidebands are stronger than a sine could make them.
    pub depth: f64,
    /// Its standard uncertainty.
    pub standard: f64,
}

/// The depth, from the voltages of the carrier and of the lines a tone below and above it; `relative` is the standard
/// uncertainty of each voltage over itself, all of them independent. `None` without a carrier.
///
/// Each sideband has half the depth times the carrier's voltage; a tone that swings the phase as well lifts one and
/// lowers the other, and their mean is not touched in the first order.
#[must_use]
pub fn am_depth(carrier: f64, sides: [f64; 2], relative: f64) -> Option<Depth> {
    if carrier <= 0.0 {
        return None;
    }
    let depth = (sides[0] + sides[1]) / carrier;
    let of_sides = relative * sides[0].hypot(sides[1]) / carrier;
    Some(Depth { depth, standard: of_sides.hypot(relative * depth) })
}

/// The level of each sideband over the carrier.
#[must_use]
pub fn sideband_level(depth: f64) -> Db {
    Db::new(20.0 * (depth / 2.0).log10())
}

/// By how much modulation raises the mean power.
#[must_use]
pub fn power_rise(depth: f64) -> Db {
    Db::new(10.0 * (1.0 + depth * depth / 2.0).log10())
}
