//! Phases of lines that have nothing to do with each other: unit vectors in random directions, several from one draw.

use std::f64::consts::TAU;
use std::sync::LazyLock;

use num_complex::Complex64;
use rand::RngExt;

use crate::draw::Draws;

/// Directions are told apart by so many bits, a third of a degree.
const BITS: u32 = 10;
const DIRECTIONS: usize = 1 << BITS;

static CIRCLE: LazyLock<[Complex64; DIRECTIONS]> =
    LazyLock::new(|| std::array::from_fn(|i| Complex64::from_polar(1.0, TAU * i as f64 / DIRECTIONS as f64)));

/// Where they are drawn from.
pub(super) struct Phases {
    circle: &'static [Complex64; DIRECTIONS],
    /// What is left of the last draw.
    bits: u64,
    left: u32,
}

impl Phases {
    pub(super) fn new() -> Self {
        Self { circle: &CIRCLE, bits: 0, left: 0 }
    }

    /// The next one.
    pub(super) fn next(&mut self, draws: &mut Draws) -> Complex64 {
        if self.left == 0 {
            (self.bits, self.left) = (draws.random(), u64::BITS / BITS);
        }
        let direction = self.bits as usize % DIRECTIONS;
        self.bits >>= BITS;
        self.left -= 1;
        self.circle[direction]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Seed;

    /// Closed forms: the mean vector is 0, so are the means of its square and of neighbours' products, and each is one
    /// long; over n draws they scatter by 1 / sqrt(n) at most.
    #[test]
    fn directions_are_alike_and_unrelated() {
        let (mut phases, mut draws) = (Phases::new(), Seed(3).stream("phases", 0));
        let n = 100_000;
        let all: Vec<Complex64> = (0..n).map(|_| phases.next(&mut draws)).collect();
        let allowed = 4.0 / f64::from(n).sqrt();
        let mean = |sum: Complex64| sum.norm() / f64::from(n);
        assert!(mean(all.iter().sum()) < allowed && mean(all.iter().map(|v| v * v).sum()) < allowed);
        assert!(mean(all.windows(2).map(|pair| pair[0] * pair[1]).sum()) < allowed);
        assert!(mean(all.windows(2).map(|pair| pair[0] * pair[1].conj()).sum()) < allowed);
        assert!(all.iter().all(|v| (v.norm() - 1.0).abs() < 1e-12));
    }
}
