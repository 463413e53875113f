//! The error of a display's scale: it goes slowly over the level below the reference level.

use std::f64::consts::TAU;

use rand::RngExt;
use rand_distr::StandardNormal;
use spurline_units::Db;

use crate::bench::Stated;
use crate::draw::Seed;

/// A drawn error over the level.
#[derive(Clone, Debug)]
pub(crate) struct Fidelity {
    /// At each step of the level from the reference level down, in dB.
    table: Vec<f64>,
}

const STEP: f64 = 0.5;
/// Farther down the error stays as it is.
const DEEPEST: f64 = 200.0;
/// Waves over the level that make up the error, and their turns for each decibel.
const WAVES: usize = 4;
const TURNS: (f64, f64) = (1.0 / 80.0, 1.0 / 25.0);

impl Fidelity {
    /// Draws it.
    pub(crate) fn draw(seed: Seed, purpose: &str, stated: Stated) -> Self {
        // Two independent normal heights make a wave that is normal everywhere, with the same spread.
        let waves: [(f64, f64, f64); WAVES] = std::array::from_fn(|wave| {
            let mut draws = seed.stream(purpose, wave as u64);
            let mut normal = || draws.sample::<f64, _>(StandardNormal);
            let (cosine, sine) = (normal(), normal());
            (TURNS.0 + (TURNS.1 - TURNS.0) * draws.random::<f64>(), cosine, sine)
        });
        let at = |below: f64| {
            let wave = |(turns, cosine, sine): &(f64, f64, f64)| {
                let (sin, cos) = (TAU * turns * below).sin_cos();
                cosine * cos + sine * sin
            };
            stated.at(waves.iter().map(wave).sum::<f64>() / (WAVES as f64).sqrt()).get()
        };
        let steps = (DEEPEST / STEP) as usize;
        Self { table: (0..=steps).map(|step| at(step as f64 * STEP)).collect() }
    }

    /// The error at a level that is so far below the reference level.
    pub(crate) fn at(&self, below: Db) -> Db {
        let place = (below.get() / STEP).clamp(0.0, (self.table.len() - 1) as f64);
        let before = (place as usize).min(self.table.len() - 2);
        let (one, next) = (self.table[before], self.table[before + 1]);
        Db::new(one + (next - one) * (place - before as f64))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::stated;

    #[test]
    fn it_is_bounded_and_goes_slowly() {
        for seed in 0..50 {
            let fidelity = Fidelity::draw(Seed(seed), "x", stated("0.2 dB", "rectangular"));
            let errors: Vec<f64> =
                (0..2000).map(|step| fidelity.at(Db::new(0.1 * f64::from(step))).get()).collect();
            let most = errors.iter().fold(0.0f64, |most, error| most.max(error.abs()));
            assert!(most <= 0.2 && most > 0.1, "{most}");
            // 1 dB further down at most four waves of 1/25 turn: 2 pi / 25 of their height, three standard deviations.
            assert!(errors.windows(11).all(|pair| (pair[10] - pair[0]).abs() < 0.12));
            assert_eq!(
                (fidelity.at(Db::new(-3.0)), fidelity.at(Db::new(900.0))),
                (fidelity.at(Db::new(0.0)), fidelity.at(Db::new(200.0)))
            );
        }
    }
}
