//! What stays undecided: how much of it there had to be.

use std::collections::BTreeMap;

use serde::Serialize;
use spurline_record::Outcome;

use super::outcomes::told;
use super::{Share, Unit};
use crate::truth::held::Held;

/// The undecided, among readings that the forecast called able to be decided.
#[derive(Clone, Debug, Serialize)]
pub struct Undecided {
    /// Among readings whose true level is more than twice their uncertainty from the limit.
    pub far: Share,
    /// The same on benches of which the forecast said so of every reading.
    pub far_on_able_benches: Share,
    /// Among those whose true level is nearer.
    pub near: Share,
    /// How many of those a normal distribution would leave undecided.
    pub near_predicted: f64,
    /// Found less predicted, in standard deviations.
    pub near_deviation: f64,
    /// The undecided that are near the limit, by their reason.
    pub near_reasons: BTreeMap<String, usize>,
    /// The same of those that are far from it.
    pub far_reasons: BTreeMap<String, usize>,
    /// Each of them in words, for a person to look at.
    pub far_told: Vec<String>,
    /// Of all readings, those that the forecast did not call able.
    pub not_able: Share,
}

impl Undecided {
    pub(super) fn of(units: &[Unit<'_>]) -> Self {
        let far = |held: &Held| (counts(held) && is_far(held)).then(|| is_undecided(held));
        let able: Vec<Unit<'_>> = units
            .iter()
            .filter(|unit| unit.readings.iter().all(|held| held.able))
            .map(|unit| Unit { ..*unit })
            .collect();
        let (near_predicted, near_deviation) = near(units);
        let (mut near_reasons, mut far_reasons) = (BTreeMap::new(), BTreeMap::new());
        let mut far_told = Vec::new();
        let all = units.iter().flat_map(|unit| unit.readings.iter().map(|held| (unit.name, held)));
        for (unit, held) in all.filter(|(_, held)| is_undecided(held)) {
            let code = held.reason.map_or("none", |reason| reason.code()).to_owned();
            if far(held) == Some(true) {
                far_told.push(format!("{}: {code}", told(unit, held)));
                *far_reasons.entry(code).or_insert(0) += 1;
            } else if is_near(held) {
                *near_reasons.entry(code).or_insert(0) += 1;
            }
        }
        Self {
            far: Share::count(units, far),
            far_on_able_benches: Share::count(&able, far),
            near: Share::count(units, |held| is_near(held).then(|| is_undecided(held))),
            near_predicted,
            near_deviation,
            near_reasons,
            far_reasons,
            far_told,
            not_able: Share::count(units, |held| Some(!held.able)),
        }
    }
}

fn is_undecided(held: &Held) -> bool {
    held.outcome == Outcome::Undecided
}

fn counts(held: &Held) -> bool {
    held.able && held.is_judged()
}

fn is_far(held: &Held) -> bool {
    held.expanded.is_none_or(|expanded| held.from_limit() > 2.0 * expanded)
}

fn is_near(held: &Held) -> bool {
    counts(held) && !is_far(held) && held.predicted_undecided().is_some()
}

/// How many near readings a normal distribution leaves undecided, and how far from that they are, in standard
/// deviations. The readings of a unit share causes: the deviation is reckoned from unit to unit, but is never taken to
/// be less than that of independent readings.
fn near(units: &[Unit<'_>]) -> (f64, f64) {
    let (mut predicted, mut found, mut by_unit, mut independent) = (0.0, 0.0, 0.0, 0.0);
    for unit in units {
        let mut residual = 0.0;
        for held in unit.readings.iter().filter(|held| is_near(held)) {
            let chance = held.predicted_undecided().unwrap_or(0.0);
            let undecided = f64::from(u8::from(is_undecided(held)));
            predicted += chance;
            found += undecided;
            residual += undecided - chance;
            independent += chance * (1.0 - chance);
        }
        by_unit += residual * residual;
    }
    let deviation = f64::max(by_unit, independent).sqrt();
    (predicted, if deviation > 0.0 { (found - predicted) / deviation } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::truth::held::specimen;

    /// One U from the limit half of all readings are undecided; U is 2 dB, the limit -13 dBm.
    #[test]
    fn near_and_far_are_told_apart() {
        let readings = [
            specimen(-15.0, -15.2, Outcome::Complies),
            specimen(-15.0, -14.2, Outcome::Undecided),
            specimen(-18.0, -17.0, Outcome::Complies),
            specimen(-30.0, -14.2, Outcome::Undecided),
        ];
        let undecided = Undecided::of(&[Unit { name: "1", readings: &readings }]);
        assert_eq!((undecided.near.hits, undecided.near.of), (1, 2));
        assert_eq!((undecided.far.hits, undecided.far.of), (1, 2));
        assert!((undecided.near_predicted - 1.0).abs() < 1e-3 && undecided.near_deviation.abs() < 1e-3);
    }
}
