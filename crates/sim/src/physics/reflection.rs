//! A reflection that turns with frequency, as a connector at the end of a piece of line.

use std::f64::consts::TAU;

use num_complex::Complex64;
use spurline_units::Hertz;

use crate::draw::Seed;

/// A reflection of constant size whose angle turns with frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reflection {
    magnitude: f64,
    /// Angle at zero frequency, in radians.
    angle: f64,
    /// Time to the discontinuity, in seconds, one way.
    delay: f64,
}

impl Reflection {
    /// Draws angle and delay for a standing wave ratio of at least 1; the discontinuity sits within 10 cm.
    pub(crate) fn draw(seed: Seed, purpose: &str, vswr: f64) -> Self {
        Self {
            magnitude: (vswr - 1.0) / (vswr + 1.0),
            angle: seed.angle(purpose, 0),
            delay: seed.between(&format!("{purpose} delay"), 0.05e-9, 0.5e-9),
        }
    }

    /// The reflection coefficient at a frequency.
    pub(crate) fn at(&self, frequency: Hertz) -> Complex64 {
        Complex64::from_polar(self.magnitude, self.angle - 2.0 * TAU * frequency.get() * self.delay)
    }

    /// Its size at all frequencies.
    pub(crate) fn magnitude(&self) -> f64 {
        self.magnitude
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form (s - 1) / (s + 1): VSWR 3 reflects half the voltage.
    #[test]
    fn size_follows_from_the_standing_wave_ratio() {
        let reflection = Reflection::draw(Seed(1), "x", 3.0);
        for mhz in [1.0, 145.0, 1450.0] {
            assert!((reflection.at(Hertz::from_mhz(mhz)).norm() - 0.5).abs() < 1e-12);
        }
        let turn = reflection.at(Hertz::from_mhz(145.0)) - reflection.at(Hertz::from_mhz(1450.0));
        assert!(turn.norm() > 0.01);
    }
}
