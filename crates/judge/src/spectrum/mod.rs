//! What a trace of a whole emission says: widths, powers in channels, masks, the place of a line.
//!
//! A trace is mean power over evenly spaced points. Each point stands for the stretch from half way to the one before to
//! half way to the one behind it, in which its power is spread evenly: that fixes every figure here to a fraction of a
//! point. Averages are of power, never of decibels.

mod channel;
mod mask;
mod occupied;
mod peak;
mod x_db;

use spurline_units::{Dbm, Hertz};

pub use channel::{adjacent_ratio, channel_power};
pub use mask::{MaskLevel, MaskLimit, MaskPlace, MaskWorst, emission_mask, level_within};
pub use occupied::{Edges, occupied, occupied_above};
pub use peak::{LinePeak, line_peak};
pub use x_db::x_db;

/// Mean powers in dBm over evenly spaced frequencies.
#[derive(Clone, Copy, Debug)]
pub struct Trace<'a> {
    /// The frequency of the first point.
    pub first: Hertz,
    /// From one point to the next, above zero.
    pub spacing: Hertz,
    /// Mean power behind the filter at each point, in dBm.
    pub levels: &'a [f64],
}

impl Trace<'_> {
    /// The frequency of a point.
    #[must_use]
    pub fn frequency(&self, point: usize) -> Hertz {
        self.first + self.spacing * point as f64
    }

    /// The frequency of an edge between stretches: `0.0` is the lower edge of the first one, `1.0` its upper edge.
    fn edge(&self, place: f64) -> Hertz {
        self.first + self.spacing * (place - 0.5)
    }

    /// The mean powers in milliwatts.
    fn powers(&self) -> impl DoubleEndedIterator<Item = f64> + '_ {
        self.levels.iter().map(|level| milliwatts(*level))
    }

    /// The highest point.
    #[must_use]
    pub fn highest(&self) -> Option<(usize, Dbm)> {
        let highest = self.levels.iter().enumerate().max_by(|one, other| one.1.total_cmp(other.1));
        highest.map(|(point, level)| (point, Dbm::new(*level)))
    }
}

fn milliwatts(level: f64) -> f64 {
    10f64.powf(level / 10.0)
}

/// The level of a power in milliwatts; `None` for none.
fn level(milliwatts: f64) -> Option<Dbm> {
    (milliwatts > 0.0 && milliwatts.is_finite()).then(|| Dbm::new(10.0 * milliwatts.log10()))
}

#[cfg(test)]
mod tests;
