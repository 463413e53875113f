//! One line by several settings of the input attenuator: what it can be, if the analyser adds a product of its own.
//!
//! A line keeps its level when the attenuation is changed, for the analyser counts it back; its own product of order
//! `n` falls by `n - 1` decibels for each decibel. Both have one frequency and an unknown phase, so that what is read is
//! `T |1 + q r e^(j phi)|` with T the line, r the product over it at the least attenuation, and q what the steps have
//! taken off. One step can be fooled: at some phases the sum does not move though both readings are wrong. All T that
//! some r and phi explain, within what each reading is uncertain by, are the answer: none is left out, none added.

mod region;
mod still;

use spurline_units::{Db, Dbm};

use region::Region;
pub use still::{LARGEST_RATIO, remaining_error};

/// A line as one setting of the attenuator shows it, at the connector and without the noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepReading {
    /// The input attenuation.
    pub attenuation: Db,
    /// The level that was read.
    pub level: Dbm,
    /// By how much it may be off against the other readings, either way.
    pub within: Db,
}

/// The least and the most that a line can be by its steps; `None` for an end that they do not bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepRange {
    /// The least; `None` if the analyser's own product may be all that was read.
    pub lowest: Option<Dbm>,
    /// The most; `None` if the readings contradict each other whatever the product is.
    pub highest: Option<Dbm>,
}

/// What a line of a harmonic's `order` can be; `None` with fewer than two different attenuations.
///
/// The ends are exact: each is reached by some product with which every reading is off by no more than it may be.
#[must_use]
pub fn range_by_steps(readings: &[StepReading], order: u32) -> Option<StepRange> {
    let least = readings.iter().map(|reading| reading.attenuation).reduce(Db::min)?;
    if readings.iter().all(|reading| reading.attenuation == least) {
        return None;
    }
    // In powers over that of the highest reading, so that figures are near one.
    let top = readings.iter().map(|reading| reading.level).reduce(Dbm::max)?;
    let mut region = Region::default();
    for reading in readings {
        let power = region::power(share(reading.attenuation - least, order));
        let level = reading.level - top;
        let within = reading.within.abs();
        region.at_most(power, (level + within).power_ratio());
        region.at_least(power, (level - within).power_ratio());
    }
    let Some((low, high)) = region.lines() else {
        return Some(StepRange { lowest: None, highest: None });
    };
    let level = |power: f64| top + Db::new(10.0 * power.log10());
    Some(StepRange { lowest: low.map(level), highest: Some(level(high)) })
}

/// What a step of the attenuator leaves of the voltage of an own product, over that of the line.
fn share(step: Db, order: u32) -> f64 {
    (-step * f64::from(order.max(2) - 1)).amplitude_ratio()
}

/// The line, and the product over it at the first step, of three readings that are exact and equally far apart: the
/// powers are T + b q^i + c q^(2i), which is linear in all three. It magnifies every error: for looking, not for judging.
/// `None` for a step of nothing, or powers that no line makes.
#[must_use]
pub fn solved_by_steps(levels: [Dbm; 3], step: Db, order: u32) -> Option<(Dbm, f64)> {
    let q = share(step, order);
    let [one, two, three] = levels.map(|level| level.to_watts().get());
    // Differences take T out; what is left is two equations in b (1 - q) and c (1 - q^2).
    let (first, second) = (one - two, two - three);
    let c = (second - q * first) / (q * q - q);
    let b = first - c;
    let line = one - b / (1.0 - q) - c / (1.0 - q * q);
    let square = c / (1.0 - q * q) / line;
    (q < 1.0 && line > 0.0 && square >= 0.0)
        .then(|| (spurline_units::Watts::new(line).to_dbm(), square.sqrt()))
}

#[cfg(test)]
mod tests;
