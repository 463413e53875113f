//! What steps between which a reading keeps still leave of the product of the analyser's own.

use spurline_units::Db;

use super::region::{Region, power};
use super::share;

/// The own product is taken to be at most this many times the line, as voltages, at the least attenuation: one of
/// 9.5 dB over the line. A reading with more of it moves at every step.
pub const LARGEST_RATIO: f64 = 3.0;

/// By how much the reading of the most attenuation can be too low and too high, if no reading moved by more than `moved`
/// against the one before: the worst over all own products up to [`LARGEST_RATIO`] and all phases.
///
/// `None` unless the attenuations ascend and there are at least two, or if the product can cancel the line altogether.
#[must_use]
pub fn remaining_error(attenuations: &[Db], order: u32, moved: Db) -> Option<(Db, Db)> {
    let (first, last) = (attenuations.first()?, attenuations.last()?);
    if attenuations.len() < 2 || attenuations.windows(2).any(|pair| pair[1] <= pair[0]) {
        return None;
    }
    let powers: Vec<_> = attenuations.iter().map(|step| power(share(*step - *first, order))).collect();
    let mut region = Region::default();
    // The last reading is 0 dB; what the line can be beside it is the error, turned round.
    let of_last = power(share(*last - *first, order));
    region.at_most(of_last, 1.0);
    region.at_least(of_last, 1.0);
    region.at_most([-LARGEST_RATIO * LARGEST_RATIO, 0.0, 1.0], 0.0);
    let (up, down) = (moved.abs().power_ratio(), (-moved.abs()).power_ratio());
    for pair in powers.windows(2) {
        region.at_most([0, 1, 2].map(|axis| pair[1][axis] - up * pair[0][axis]), 0.0);
        region.at_least([0, 1, 2].map(|axis| pair[1][axis] - down * pair[0][axis]), 0.0);
    }
    let (low, high) = region.lines()?;
    let error = |line: f64| Db::new(-10.0 * line.log10());
    Some((error(high), error(low?)))
}
