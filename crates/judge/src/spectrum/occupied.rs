//! Occupied bandwidth: the width outside of which a stated share of the power lies, half of it on either side.

use spurline_units::Hertz;

use super::Trace;

/// The two edges of a width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edges {
    /// The lower one.
    pub lower: Hertz,
    /// The upper one.
    pub upper: Hertz,
}

impl Edges {
    /// From edge to edge.
    #[must_use]
    pub fn width(&self) -> Hertz {
        self.upper - self.lower
    }

    /// Half way between them.
    #[must_use]
    pub fn centre(&self) -> Hertz {
        (self.lower + self.upper) / 2.0
    }
}

/// The edges between which `share` of a trace's power lies, from 0 to 1, with equal parts of the rest on either side
/// (ITU-R SM.328: 0.5 % each for the occupied bandwidth). The cumulative power is taken to rise straight over each
/// point's stretch; `None` for a trace without power.
#[must_use]
pub fn occupied(trace: &Trace<'_>, share: f64) -> Option<Edges> {
    occupied_above(trace, 0.0, share)
}

/// The same with so many milliwatts of noise taken off each point, none of which falls below zero.
#[must_use]
pub fn occupied_above(trace: &Trace<'_>, noise: f64, share: f64) -> Option<Edges> {
    let powers = || trace.powers().map(|power| (power - noise).max(0.0));
    let total: f64 = powers().sum();
    if total <= 0.0 || !total.is_finite() || !(0.0..=1.0).contains(&share) {
        return None;
    }
    let out = total * (1.0 - share) / 2.0;
    let below = stretches(powers(), out);
    let above = stretches(powers().rev(), out);
    let count = trace.levels.len() as f64;
    // With a share of nothing both edges meet, and rounding must not swap them.
    let upper = (count - above).max(below);
    Some(Edges { lower: trace.edge(below), upper: trace.edge(upper) })
}

/// How many stretches hold so much power.
fn stretches(powers: impl Iterator<Item = f64>, wanted: f64) -> f64 {
    let (mut sum, mut place) = (0.0, 0.0);
    for power in powers {
        if sum + power >= wanted {
            return if power > 0.0 { place + ((wanted - sum) / power).max(0.0) } else { place };
        }
        sum += power;
        place += 1.0;
    }
    place
}
