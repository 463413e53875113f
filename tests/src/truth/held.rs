//! One reading, held against the truth.

use serde::Serialize;
use spurline_record::{Outcome, Proof, Quantity, Reading, ReasonCode};
use spurline_units::Dbm;

use super::families::{Family, shares};
use super::subject::Subject;

/// What a reading says of the level.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// It is this, dBm.
    Value(f64),
    /// It is not above this, dBm.
    Bound(f64),
    /// Nothing.
    Nothing,
}

/// An outcome that the truth contradicts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wrong {
    /// It is said to comply, and does not.
    Complies,
    /// It is said to exceed, and does not.
    Exceeds,
}

/// One reading, held against the truth. Levels are in dBm at the connector, distances in dB.
#[derive(Clone, Debug, Serialize)]
pub struct Held {
    /// The order; 1 is the carrier.
    pub order: u32,
    /// The true level into a matched load; `None` if the unit has no such line.
    pub truth: Option<f64>,
    /// The true limits, lowest and highest level that complies; the lowest of a harmonic is minus infinity.
    pub limits: [f64; 2],
    /// What was read.
    pub found: Found,
    /// The least and the most that it was said that the line can be, uncertainty aside; minus infinity where the least is
    /// nothing. `None` unless the analyser's own product makes it a range.
    pub range: Option<[f64; 2]>,
    /// The expanded uncertainty that was stated with it.
    pub expanded: Option<f64>,
    /// The standard uncertainty that was stated with it.
    pub standard: Option<f64>,
    /// The outcome.
    pub outcome: Outcome,
    /// Why.
    pub reason: Option<ReasonCode>,
    /// Whether the forecast called it able to be decided.
    pub able: bool,
    /// How far the raw reading stands above the floor.
    pub above_floor: Option<f64>,
    /// Whether a power meter read it.
    pub by_meter: bool,
    /// Whether something else is on the air there.
    pub ambient: bool,
    /// The share of each family of contributions in the variance that was stated, dB squared.
    pub shares: Vec<(Family, f64)>,
}

impl Held {
    pub(super) fn new(subject: &Subject, reading: &Reading, able: bool) -> Self {
        let order = reading.order.unwrap_or(1);
        let found = match reading.figure {
            Some(figure) if figure.bound => Found::Bound(figure.level.map_or(figure.value, Dbm::get)),
            Some(figure) => Found::Value(figure.level.map_or(figure.value, Dbm::get)),
            None => Found::Nothing,
        };
        Self {
            order,
            truth: subject.unit.level(order),
            limits: subject.limits(order),
            found,
            range: range(&reading.proof),
            expanded: reading.budget.as_ref().map(|budget| budget.expanded),
            standard: reading.budget.as_ref().map(|budget| budget.combined),
            outcome: reading.outcome,
            reason: reading.reason.as_ref().map(|reason| reason.code),
            able,
            above_floor: reading.proof.floor.map(|floor| floor.distance.get()),
            by_meter: reading.quantity == Quantity::CarrierPower && subject.meter.is_some(),
            ambient: order > 1 && subject.has_ambient_at(order),
            shares: reading.budget.as_ref().map(shares).unwrap_or_default(),
        }
    }

    /// How far inside the nearest limit the true level lies; negative outside, infinite for no line at all.
    #[must_use]
    pub fn inside(&self) -> f64 {
        let [low, high] = self.limits;
        self.truth.map_or(f64::INFINITY, |truth| (truth - low).min(high - truth))
    }

    /// How far the true level lies from the nearest limit.
    #[must_use]
    pub fn from_limit(&self) -> f64 {
        self.inside().abs()
    }

    /// The outcome, if the truth contradicts it.
    #[must_use]
    pub fn wrong(&self) -> Option<Wrong> {
        match self.outcome {
            Outcome::Complies if self.inside() < 0.0 => Some(Wrong::Complies),
            Outcome::Exceeds if self.inside() >= 0.0 => Some(Wrong::Exceeds),
            _ => None,
        }
    }

    /// Whether the reading is one of those that say something: it complies, exceeds or is undecided.
    #[must_use]
    pub fn is_judged(&self) -> bool {
        matches!(self.outcome, Outcome::Complies | Outcome::Exceeds | Outcome::Undecided)
    }

    /// Value less truth, if it is a value of a line that there is. What an invalid reading shows is no value.
    #[must_use]
    pub fn error(&self) -> Option<f64> {
        match (self.found, self.truth) {
            (Found::Value(level), Some(truth)) if self.outcome != Outcome::Invalid => Some(level - truth),
            _ => None,
        }
    }

    /// Whether the truth lies in the interval that was stated with a value; `None` if it is no value. A value for a
    /// line that is not there holds nothing.
    #[must_use]
    pub fn holds(&self) -> Option<bool> {
        let expanded = self.expanded?;
        match self.found {
            Found::Value(_) if self.outcome != Outcome::Invalid => {
                Some(self.error().is_some_and(|error| error.abs() <= expanded))
            }
            _ => None,
        }
    }

    /// Whether the truth lies in the range that the line was said to have, widened by its uncertainty; `None` if none was.
    /// Nothing at all lies in a range that begins with nothing.
    #[must_use]
    pub fn range_holds(&self) -> Option<bool> {
        let ([low, high], expanded) = (self.range?, self.expanded?);
        let truth = self.truth.unwrap_or(f64::NEG_INFINITY);
        (self.outcome != Outcome::Invalid).then_some(low - expanded <= truth && truth <= high + expanded)
    }

    /// The chance of being undecided for a reading that is normally distributed about the truth with the standard
    /// uncertainty, under a guard band as wide as the expanded one; `None` without truth or uncertainty.
    #[must_use]
    pub fn predicted_undecided(&self) -> Option<f64> {
        let (truth, expanded, standard) = (self.truth?, self.expanded?, self.standard?);
        let [low, high] = self.limits;
        let below = |level: f64| normal_cdf((level - truth) / standard);
        let complies = (below(high - expanded) - below(low + expanded)).max(0.0);
        let exceeds = 1.0 - below(high + expanded) + below(low - expanded);
        Some((1.0 - complies - exceeds).clamp(0.0, 1.0))
    }
}

fn range(proof: &Proof) -> Option<[f64; 2]> {
    let highest = proof.highest?.get();
    Some([proof.lowest.map_or(f64::NEG_INFINITY, |lowest| lowest.get()), highest])
}

/// Of our own, because what is put to the test must not be asked.
fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
pub(super) fn specimen(truth: f64, level: f64, outcome: Outcome) -> Held {
    Held {
        order: 2,
        truth: Some(truth),
        limits: [f64::NEG_INFINITY, -13.0],
        found: Found::Value(level),
        range: None,
        expanded: Some(2.0),
        standard: Some(1.0),
        outcome,
        reason: None,
        able: true,
        above_floor: Some(30.0),
        by_meter: false,
        ambient: false,
        shares: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_are_held_against_the_truth() {
        assert_eq!(specimen(-12.9, -15.5, Outcome::Complies).wrong(), Some(Wrong::Complies));
        assert_eq!(specimen(-13.0, -10.5, Outcome::Exceeds).wrong(), Some(Wrong::Exceeds));
        assert_eq!(specimen(-12.9, -10.5, Outcome::Exceeds).wrong(), None);
        assert_eq!(specimen(-20.0, -10.5, Outcome::Undecided).wrong(), None);
        let absent = Held { truth: None, ..specimen(0.0, -10.5, Outcome::Exceeds) };
        assert_eq!((absent.wrong(), absent.holds()), (Some(Wrong::Exceeds), Some(false)));
        let carrier = Held { limits: [36.0, 38.0], ..specimen(38.5, 37.0, Outcome::Complies) };
        assert_eq!((carrier.wrong(), carrier.inside()), (Some(Wrong::Complies), -0.5));
    }

    #[test]
    fn values_hold_the_truth_within_their_uncertainty() {
        assert_eq!(specimen(-20.0, -18.1, Outcome::Complies).holds(), Some(true));
        assert_eq!(specimen(-20.0, -17.9, Outcome::Complies).holds(), Some(false));
        assert_eq!(specimen(-20.0, -17.9, Outcome::Invalid).holds(), None);
        let bound = Held { found: Found::Bound(-20.0), ..specimen(-40.0, 0.0, Outcome::Complies) };
        assert_eq!(bound.holds(), None);
    }

    #[test]
    fn ranges_hold_the_truth_within_their_uncertainty() {
        let range = |low, high| Held {
            range: Some([low, high]),
            found: Found::Bound(high),
            ..specimen(-20.0, high, Outcome::Undecided)
        };
        assert_eq!(range(-24.0, -21.9).range_holds(), Some(true));
        assert_eq!(range(-24.0, -22.1).range_holds(), Some(false));
        assert_eq!(range(-17.9, -10.0).range_holds(), Some(false));
        assert_eq!(Held { truth: None, ..range(f64::NEG_INFINITY, -10.0) }.range_holds(), Some(true));
        assert_eq!(Held { truth: None, ..range(-17.9, -10.0) }.range_holds(), Some(false));
        assert_eq!(specimen(-20.0, -20.0, Outcome::Complies).range_holds(), None);
    }

    /// scipy 1.17.1: `norm.cdf(2) - norm.cdf(-2)` at the limit, `norm.cdf(4) - norm.cdf(0)` one U from it.
    #[test]
    fn the_undecided_share_is_that_of_a_normal_distribution() {
        for (truth, share) in [(-13.0, 0.954_499_7), (-15.0, 0.499_968_3), (-11.0, 0.499_968_3)] {
            let predicted = specimen(truth, truth, Outcome::Undecided).predicted_undecided().unwrap();
            assert!((predicted - share).abs() < 1e-6, "{truth}: {predicted}");
        }
    }
}
