//! Seeded draws: every unit has a stream of its own, so that the order in which units are measured changes nothing.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A stream of draws.
#[derive(Debug)]
pub(super) struct Draws(ChaCha8Rng);

impl Draws {
    /// The stream of one unit of one seed.
    pub(super) fn of(seed: u64, unit: u64) -> Self {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        key[8..16].copy_from_slice(&unit.to_le_bytes());
        Self(ChaCha8Rng::from_seed(key))
    }

    /// A number, all values from `low` to `high` alike.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// The same to two decimals, as figures stand in a data sheet.
    pub(super) fn figure(&mut self, low: f64, high: f64) -> f64 {
        (self.between(low, high) * 100.0).round() / 100.0
    }

    /// A draw from the normal distribution with mean 0 and standard deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// Whether something happens that happens in this share of all cases.
    pub(super) fn chance(&mut self, share: f64) -> bool {
        self.0.random::<f64>() < share
    }

    /// One of several, all alike.
    pub(super) fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.0.random::<f64>() * all.len() as f64) as usize]
    }

    /// A seed for what draws by itself.
    pub(super) fn seed(&mut self) -> u32 {
        self.0.random()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_drawn_alike_whatever_was_drawn_before() {
        let first = Draws::of(3, 17).seed();
        let mut other = Draws::of(3, 16);
        assert_ne!(other.seed(), first);
        assert_eq!(Draws::of(3, 17).seed(), first);
    }

    /// Of 4,000 draws the mean of `between` lies within four standard errors, 4 / sqrt(12 · 4000), of one half.
    #[test]
    fn all_values_are_alike() {
        let mut draws = Draws::of(1, 1);
        let mean = (0..4000).map(|_| draws.between(0.0, 1.0)).sum::<f64>() / 4000.0;
        assert!((mean - 0.5).abs() < 0.0183, "{mean}");
    }
}
