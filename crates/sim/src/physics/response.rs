//! A smooth error over frequency that is zero at a reference and has a given spread elsewhere.

use spurline_units::{Db, Hertz};

use crate::draw::Seed;

/// How many waves over the logarithm of frequency make up the error.
const WAVES: usize = 4;

/// The frequency response error of an instrument, relative to its calibrator.
#[derive(Clone, Debug)]
pub(crate) struct Response {
    reference: Hertz,
    /// Height of each wave in dB, its turns per decade, its phase in radians.
    waves: [(f64, f64, f64); WAVES],
}

impl Response {
    /// Draws a response whose standard deviation far from `reference` is `spread`.
    pub(crate) fn draw(seed: Seed, purpose: &str, spread: Db, reference: Hertz) -> Self {
        // Each value is the difference of two independent sums of sines, each sine with a mean square of one half.
        let height = spread.get() / (WAVES as f64).sqrt();
        let waves = std::array::from_fn(|i| {
            let turns = seed.between(&format!("{purpose} turns {i}"), 0.5, 3.0);
            let phase = seed.angle(&format!("{purpose} phase"), i as u64);
            (height, turns, phase)
        });
        Self { reference, waves }
    }

    /// The error at a frequency; positive reads high.
    pub(crate) fn at(&self, frequency: Hertz) -> Db {
        Db::new(self.sum(frequency) - self.sum(self.reference))
    }

    fn sum(&self, frequency: Hertz) -> f64 {
        let decades = frequency.get().max(1.0).log10();
        self.waves
            .iter()
            .map(|(height, turns, phase)| height * (std::f64::consts::TAU * turns * decades + phase).sin())
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spread_is_what_was_asked_for() {
        let reference = Hertz::from_mhz(50.0);
        let values: Vec<f64> = (0..4000)
            .map(|seed| {
                Response::draw(Seed(seed), "x", Db::new(0.3), reference).at(Hertz::from_mhz(870.0)).get()
            })
            .collect();
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let spread = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt();
        // Four standard errors of 4000 draws: 0.3 / sqrt(4000) · 4 = 0.019, and 0.013 for the spread.
        assert!(mean.abs() < 0.02, "{mean}");
        assert!((spread - 0.3).abs() < 0.02, "{spread}");
    }

    #[test]
    fn it_is_zero_at_the_reference_and_smooth() {
        let reference = Hertz::from_mhz(50.0);
        let response = Response::draw(Seed(3), "x", Db::new(0.3), reference);
        assert_eq!(response.at(reference), Db::new(0.0));
        let step = response.at(Hertz::from_mhz(145.0)) - response.at(Hertz::from_mhz(145.1));
        assert!(step.abs() < Db::new(0.01));
    }
}
