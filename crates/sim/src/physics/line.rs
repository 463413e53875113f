//! A line, and the oscillation that it is a part of: what modulation makes of one carrier belongs together.
//!
//! Lines of one oscillation keep their phases to each other, so that together they have the envelope of their carrier;
//! those of two oscillations do not, and beat.

use spurline_units::{Hertz, Watts};

/// A line as the filter meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    /// Where it stands.
    pub(crate) frequency: Hertz,
    /// Its power.
    pub(crate) power: Watts,
    /// What it is a part of.
    pub(crate) of: Oscillation,
}

/// An oscillation, which modulation makes into many lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Oscillation {
    /// Where it stands without modulation.
    pub(crate) centre: Hertz,
    /// How many times as far as the unit's carrier it swings in frequency; `None` if the unit does not modulate it.
    pub(crate) swings: Option<f64>,
}

/// Oscillations as near as this, in hertz, are one.
const SAME: f64 = 1.0;

impl Line {
    /// A line that the unit does not modulate.
    pub(crate) fn bare(frequency: Hertz, power: Watts) -> Self {
        Self { frequency, power, of: Oscillation { centre: frequency, swings: None } }
    }
}

impl Oscillation {
    /// Whether it is modulated as the unit is.
    pub(crate) fn is_modulated(&self) -> bool {
        self.swings.is_some()
    }

    /// Whether it is the same one.
    pub(crate) fn is(&self, other: &Self) -> bool {
        (self.centre - other.centre).get().abs() < SAME && self.swings == other.swings
    }

    /// What a mixer makes of so many times this and so many times another: it swings as their sum.
    pub(crate) fn mixed(self, times: f64, other: Option<(Self, f64)>) -> Self {
        let (other, of_other) = other.map_or((self, 0.0), |(other, times)| (other, times));
        let sum = |one: f64, another: f64| (times * one + of_other * another).abs();
        let swings = (self.is_modulated() || (of_other != 0.0 && other.is_modulated()))
            .then(|| sum(self.swings.unwrap_or(0.0), other.swings.unwrap_or(0.0)));
        Self { centre: Hertz::new(sum(self.centre.get(), other.centre.get())), swings }
    }

    /// The same, so much lower and folded at 0 Hz.
    pub(crate) fn lowered(self, by: Hertz) -> Self {
        Self { centre: Hertz::new((self.centre - by).get().abs()), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_swing_as_the_sum_of_what_they_are_made_of() {
        let at = |mhz, swings| Oscillation { centre: Hertz::from_mhz(mhz), swings };
        let (carrier, third, other) = (at(145.0, Some(1.0)), at(435.0, Some(3.0)), at(100.0, None));
        assert!(carrier.mixed(2.0, None).is(&at(290.0, Some(2.0))));
        assert!(carrier.mixed(-1.0, Some((third, 1.0))).is(&at(290.0, Some(2.0))));
        assert!(carrier.mixed(2.0, Some((other, -1.0))).is(&at(190.0, Some(2.0))));
        assert!(other.mixed(2.0, Some((carrier, 0.0))).is(&at(200.0, None)));
        assert!(!carrier.is(&at(145.0, None)) && !carrier.is(&at(145.000_002, Some(1.0))));
    }
}
