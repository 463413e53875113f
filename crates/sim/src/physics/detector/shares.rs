//! Of the highest of so many looks: the share exp(-t) of all looks that is higher still, drawn from a table.
//!
//! All are lower with the probability (1 - exp(-t))^looks. Turned round and in its logarithm that is a smooth curve over
//! this probability, but for its ends; there it is worked out.

use rand::RngExt;

use crate::draw::Draws;

/// The logarithm of t, to be drawn.
#[derive(Clone, Debug)]
pub(super) struct Shares {
    looks: f64,
    table: Vec<f64>,
}

const STEPS: usize = 256;
/// This near to either end the curve bends too much for the table.
const ENDS: f64 = 0.05;

impl Shares {
    /// For the highest of so many looks, one or more.
    pub(super) fn new(looks: f64) -> Self {
        let table = (0..=STEPS).map(|step| log_share(step as f64 / STEPS as f64, looks)).collect();
        Self { looks, table }
    }

    /// Draws it.
    pub(super) fn draw(&self, draws: &mut Draws) -> f64 {
        let all_lower = draws.random::<f64>();
        if !(ENDS..1.0 - ENDS).contains(&all_lower) {
            return log_share(all_lower, self.looks);
        }
        let place = all_lower * STEPS as f64;
        let before = place as usize;
        let (one, next) = (self.table[before], self.table[before + 1]);
        one + (next - one) * (place - before as f64)
    }
}

/// ln t at the probability that all looks are lower.
pub(super) fn log_share(all_lower: f64, looks: f64) -> f64 {
    // A draw of just nothing or just everything would have no logarithm.
    if looks == 1.0 {
        return (-(1.0 - all_lower).max(f64::MIN_POSITIVE).ln()).max(f64::MIN_POSITIVE).ln();
    }
    let each = (all_lower.max(f64::MIN_POSITIVE).ln() / looks).min(-f64::MIN_POSITIVE);
    let higher = -each.exp_m1();
    // Where nearly all looks are higher, t is how many are not.
    if higher < 1.0 { (-higher.ln()).max(f64::MIN_POSITIVE).ln() } else { each }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Seed;

    /// The table's straight pieces against the curve, in dB of the power of noise.
    #[test]
    fn the_table_keeps_to_the_curve() {
        for looks in [1.0, 1.7, 4.0, 60.0, 1e4, 1e8] {
            let shares = Shares::new(looks);
            for (seed, _) in (0..500).enumerate() {
                let (mut one, mut other) =
                    (Seed(seed as u64).stream("x", 0), Seed(seed as u64).stream("x", 0));
                let (quick, exact) = (shares.draw(&mut one), log_share(other.random::<f64>(), looks));
                let error = 10.0 / std::f64::consts::LN_10 * (quick - exact);
                assert!(error.abs() < 0.005, "{looks}: {error} dB");
            }
        }
    }

    #[test]
    fn the_ends_have_a_logarithm() {
        for looks in [1.0, 50.0, 1e8] {
            for all_lower in [0.0, 1e-300, 1.0 - f64::EPSILON / 2.0, 1.0] {
                assert!(log_share(all_lower, looks).is_finite(), "{looks}, {all_lower}");
            }
        }
    }
}
