//! Seeded randomness: every purpose has a stream of its own, so that the order of tasks changes nothing.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// The generator that everything here draws from.
pub(crate) type Draws = ChaCha8Rng;

/// The seed of a bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Seed(pub(crate) u64);

impl Seed {
    /// The seed of everything that is another one at each visit to the same bench; the first visit has the bench's own.
    pub(crate) fn of_visit(self, visit: u32) -> Self {
        if visit == 0 { self } else { Self(self.0 ^ fnv1a(&format!("visit {visit}"))) }
    }

    /// The stream for one purpose; `count` tells the uses of the same purpose apart.
    pub(crate) fn stream(self, purpose: &str, count: u64) -> Draws {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&self.0.to_le_bytes());
        key[8..16].copy_from_slice(&fnv1a(purpose).to_le_bytes());
        key[16..24].copy_from_slice(&count.to_le_bytes());
        Draws::from_seed(key)
    }

    /// One draw from the normal distribution with mean 0 and standard deviation 1.
    pub(crate) fn normal(self, purpose: &str) -> f64 {
        self.stream(purpose, 0).sample(StandardNormal)
    }

    /// One angle in radians, all directions alike.
    pub(crate) fn angle(self, purpose: &str, count: u64) -> f64 {
        self.stream(purpose, count).random::<f64>() * TAU
    }

    /// One number, all values from `low` to `high` alike.
    pub(crate) fn between(self, purpose: &str, low: f64, high: f64) -> f64 {
        low + (high - low) * self.stream(purpose, 0).random::<f64>()
    }
}

/// The FNV-1a hash with 64 bits: the standard library's hasher may change between releases.
fn fnv1a(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors of draft-eastlake-fnv, section "FNV-1a 64-bit".
    #[test]
    fn the_hash_is_fnv1a() {
        assert_eq!(fnv1a(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv1a("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv1a("foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn each_visit_has_draws_of_its_own() {
        let seeds = [0, 1, 2].map(|visit| Seed(7).of_visit(visit).0);
        assert!(seeds[0] == 7 && seeds[1] != 7 && seeds[1] != seeds[2]);
    }

    #[test]
    fn streams_differ_by_seed_purpose_and_count() {
        let draw = |seed, purpose, count| Seed(seed).stream(purpose, count).random::<u64>();
        assert_eq!(draw(1, "a", 0), draw(1, "a", 0));
        for other in [draw(2, "a", 0), draw(1, "b", 0), draw(1, "a", 1)] {
            assert_ne!(draw(1, "a", 0), other);
        }
    }
}
