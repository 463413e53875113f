//! Errors of values by kind of reading, beside what was stated: where a budget is too wide or too narrow, and of what.

use serde::Serialize;

use super::{Share, Unit};
use crate::truth::families::Family;
use crate::truth::held::Held;

/// Values of one kind of reading.
#[derive(Clone, Debug, Serialize)]
pub struct Stratum {
    /// Which.
    pub name: &'static str,
    /// Intervals that hold the truth.
    pub holds: Share,
    /// Mean error, dB.
    pub mean_error: f64,
    /// Root of the mean square error, dB.
    pub rms_error: f64,
    /// Root of the mean stated variance, dB.
    pub rms_stated: f64,
    /// The share of each family in the stated variance, 0 to 1, the largest first.
    pub families: Vec<(Family, f64)>,
}

type Belongs = fn(&Held) -> bool;

/// A reading nearer to the floor than this is of another kind, dB.
const NEAR_FLOOR: f64 = 10.0;

fn near_floor(held: &Held) -> bool {
    held.above_floor.is_some_and(|distance| distance < NEAR_FLOOR)
}

fn has(held: &Held, family: Family) -> bool {
    held.shares.iter().any(|(known, _)| *known == family)
}

fn plain(held: &Held) -> bool {
    held.order > 3 && !held.ambient && !near_floor(held) && !has(held, Family::Meter)
}

const STRATA: [(&str, Belongs); 8] = [
    ("carrier, by power meter", |held| held.order == 1 && held.by_meter),
    ("carrier, by analyser", |held| held.order == 1 && !held.by_meter),
    ("harmonic, orders 4 to 10", plain),
    ("harmonic, order 2", |held| held.order == 2 && !held.ambient),
    ("harmonic, order 3", |held| held.order == 3 && !held.ambient),
    ("harmonic, limit follows the carrier", |held| {
        held.order > 3 && has(held, Family::Meter) && !held.ambient
    }),
    ("harmonic, under 10 dB above the floor", |held| held.order > 3 && near_floor(held) && !held.ambient),
    ("harmonic, something else on the air", |held| held.ambient),
];

pub(super) fn all(units: &[Unit<'_>]) -> Vec<Stratum> {
    STRATA.iter().map(|(name, belongs)| stratum(units, name, *belongs)).collect()
}

fn stratum(units: &[Unit<'_>], name: &'static str, belongs: Belongs) -> Stratum {
    let all = units.iter().flat_map(|unit| unit.readings);
    let values: Vec<(&Held, f64)> =
        all.filter(|held| belongs(held)).filter_map(|held| Some((held, held.error()?))).collect();
    let count = values.len().max(1) as f64;
    let mean = |figure: &dyn Fn(&Held, f64) -> f64| {
        values.iter().map(|(held, error)| figure(held, *error)).sum::<f64>() / count
    };
    let stated = mean(&|held, _| held.standard.map_or(0.0, |standard| standard.powi(2)));
    let mut families: Vec<(Family, f64)> = Vec::new();
    for (family, variance) in values.iter().flat_map(|(held, _)| &held.shares) {
        let share = if stated > 0.0 { variance / (stated * count) } else { 0.0 };
        match families.iter_mut().find(|(known, _)| known == family) {
            Some((_, sum)) => *sum += share,
            None => families.push((*family, share)),
        }
    }
    families.sort_by(|one, other| other.1.total_cmp(&one.1));
    Stratum {
        name,
        holds: Share::count(units, |held| held.holds().filter(|_| belongs(held))),
        mean_error: mean(&|_, error| error),
        rms_error: mean(&|_, error| error * error).sqrt(),
        rms_stated: stated.sqrt(),
        families,
    }
}
