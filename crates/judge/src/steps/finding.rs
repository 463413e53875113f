//! What the moves of a reading from step to step say, by the rule of two steps.

use spurline_units::Db;

use super::region::{Region, power};
use super::{StepReading, share};

/// The own product is taken to be at most this many times the line, as voltages, at the least attenuation: one of
/// 9.5 dB over the line. A reading with more of it moves at every step.
pub const LARGEST_RATIO: f64 = 3.0;

/// How many different attenuations it takes: a single step can be fooled.
const SETTINGS: usize = 3;

/// What steps of the attenuator say about a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StepFinding {
    /// It keeps still over two steps or more; what may be wrong with the one of the most attenuation is known.
    Clean {
        /// The most by which it can be too low, a negative number.
        worst_low: Db,
        /// The most by which it can be too high.
        worst_high: Db,
    },
    /// It still falls at the last step as the analyser's own product does, by more than half.
    Own,
    /// It moves, but not like that, or there are too few steps.
    Unclear,
}

/// Holds the moves from each attenuation to the next against `moved`, the most that a still reading may move.
///
/// What the readings may be off by against each other is added to `moved` where the worst case is reckoned.
#[must_use]
pub fn find_by_steps(readings: &[StepReading], order: u32, moved: Db) -> StepFinding {
    let mut sorted = readings.to_vec();
    sorted.sort_by(|one, other| one.attenuation.get().total_cmp(&other.attenuation.get()));
    sorted.dedup_by_key(|reading| reading.attenuation.get().to_bits());
    let moved = moved.abs();
    let [.., before, last] = &sorted[..] else { return StepFinding::Unclear };
    let within = |pair: &[StepReading]| pair[0].within.abs() + pair[1].within.abs();

    let fall = before.level - last.level - before.within.abs() - last.within.abs();
    let as_own = (last.attenuation - before.attenuation) * f64::from(order.max(2) - 1);
    if fall > moved && fall > as_own / 2.0 {
        return StepFinding::Own;
    }
    let is_still = sorted.windows(2).all(|pair| (pair[1].level - pair[0].level).abs() <= moved);
    if sorted.len() < SETTINGS || !is_still {
        return StepFinding::Unclear;
    }
    let attenuations: Vec<Db> = sorted.iter().map(|reading| reading.attenuation).collect();
    let moves: Vec<Db> = sorted.windows(2).map(|pair| moved + within(pair)).collect();
    match worst(&attenuations, order, &moves) {
        Some((worst_low, worst_high)) => StepFinding::Clean { worst_low, worst_high },
        None => StepFinding::Unclear,
    }
}

/// By how much the reading of the most attenuation can be too low and too high, if no reading moved by more than `moved`
/// against the one before: the worst over all own products up to [`LARGEST_RATIO`] and all phases.
///
/// `None` unless the attenuations ascend and there are at least two, or if the product can cancel the line altogether.
#[must_use]
pub fn remaining_error(attenuations: &[Db], order: u32, moved: Db) -> Option<(Db, Db)> {
    worst(attenuations, order, &vec![moved.abs(); attenuations.len().saturating_sub(1)])
}

fn worst(attenuations: &[Db], order: u32, moves: &[Db]) -> Option<(Db, Db)> {
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
    for (pair, moved) in powers.windows(2).zip(moves) {
        let (up, down) = (moved.power_ratio(), (-*moved).power_ratio());
        region.at_most([0, 1, 2].map(|axis| pair[1][axis] - up * pair[0][axis]), 0.0);
        region.at_least([0, 1, 2].map(|axis| pair[1][axis] - down * pair[0][axis]), 0.0);
    }
    let (low, high) = region.lines()?;
    let error = |line: f64| Db::new(-10.0 * line.log10());
    Some((error(high), error(low?)))
}
