//! An error that goes slowly from one value to another over frequency, as often wrong as is stated at each of them.

use std::f64::consts::TAU;

use rand::RngExt;
use rand_distr::StandardNormal;
use spurline_units::{Db, Hertz};

use crate::bench::Stated;
use crate::draw::Seed;

/// A drawn error over frequency.
#[derive(Clone, Debug)]
pub(crate) struct SmoothError {
    stated: Stated,
    /// Turns per decade of frequency, and the heights of cosine and sine.
    waves: [(f64, f64, f64); WAVES],
}

/// How many waves over the logarithm of frequency make up the error.
const WAVES: usize = 4;

impl SmoothError {
    /// Draws it for one purpose.
    pub(crate) fn draw(seed: Seed, purpose: &str, stated: Stated) -> Self {
        let waves = std::array::from_fn(|i| {
            let mut draws = seed.stream(&format!("{purpose} over frequency"), i as u64);
            let mut normal = || draws.sample::<f64, _>(StandardNormal);
            let (cosine, sine) = (normal(), normal());
            (0.5 + 2.0 * draws.random::<f64>(), cosine, sine)
        });
        Self { stated, waves }
    }

    /// The error at a frequency.
    pub(crate) fn at(&self, frequency: Hertz) -> Db {
        let decades = frequency.get().max(1.0).log10();
        // Two independent normal heights make a wave that is normal everywhere, with the same spread.
        let wave = |(turns, cosine, sine): &(f64, f64, f64)| {
            let angle = TAU * turns * decades;
            cosine * angle.cos() + sine * angle.sin()
        };
        self.stated.at(self.waves.iter().map(wave).sum::<f64>() / (WAVES as f64).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mean square of 4000 normal draws is known to sqrt(2 / 4000), 2.2 %; four times that is allowed.
    #[test]
    fn it_is_spread_as_stated_at_every_frequency() {
        let stated = Stated::normal(Db::new(0.2));
        for mhz in [1.0, 30.0, 145.0, 1000.0, 2900.0] {
            let error = |seed| SmoothError::draw(Seed(seed), "x", stated).at(Hertz::from_mhz(mhz)).get();
            let square = (0..4000).map(|seed| error(seed).powi(2)).sum::<f64>() / 4000.0;
            assert!((square / 0.04 - 1.0).abs() < 0.09, "{mhz} MHz: {square}");
        }
    }

    /// At most 2.5 turns a decade: from one megahertz to the next at 145 MHz, 0.003 decades, little moves.
    #[test]
    fn it_goes_slowly_and_goes() {
        let stated = Stated::normal(Db::new(0.2));
        let error = SmoothError::draw(Seed(3), "x", stated);
        let at = |mhz| error.at(Hertz::from_mhz(mhz)).get();
        assert!((at(145.0) - at(146.0)).abs() < 0.05);
        assert!((at(145.0) - at(1450.0)).abs() + (at(145.0) - at(435.0)).abs() > 0.01);
    }
}
