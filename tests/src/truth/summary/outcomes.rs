//! Wrong outcomes: those that the truth contradicts, by how far and by kind.

use serde::Serialize;

use super::{Share, Unit};
use crate::truth::held::{Found, Held, Wrong};

/// Wrong outcomes.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Outcomes {
    /// Said to comply, and more than its uncertainty beyond the limit.
    pub complies_beyond: usize,
    /// Said to exceed, and more than its uncertainty inside the limit.
    pub exceeds_beyond: usize,
    /// Wrong outcomes among readings whose true level is within their uncertainty of the limit.
    pub within: Share,
    /// Of those, said to comply.
    pub complies_within: usize,
    /// Of those, said to exceed.
    pub exceeds_within: usize,
    /// Every wrong outcome, for a person to look at.
    pub told: Vec<Told>,
}

/// One wrong outcome.
#[derive(Clone, Debug, Serialize)]
pub struct Told {
    /// The subject.
    pub unit: String,
    /// Whether it lies beyond its uncertainty.
    pub beyond: bool,
    /// What is wrong.
    pub wrong: Wrong,
    /// The reading.
    pub reading: Held,
}

impl Outcomes {
    pub(super) fn of(units: &[Unit<'_>]) -> Self {
        let mut outcomes = Self {
            within: Share::count(units, |held| {
                let near = held.is_judged() && !beyond(held);
                near.then(|| held.wrong().is_some())
            }),
            ..Self::default()
        };
        for unit in units {
            for held in unit.readings {
                let Some(wrong) = held.wrong() else { continue };
                let beyond = beyond(held);
                *match (wrong, beyond) {
                    (Wrong::Complies, true) => &mut outcomes.complies_beyond,
                    (Wrong::Exceeds, true) => &mut outcomes.exceeds_beyond,
                    (Wrong::Complies, false) => &mut outcomes.complies_within,
                    (Wrong::Exceeds, false) => &mut outcomes.exceeds_within,
                } += 1;
                outcomes.told.push(Told { unit: unit.name.to_owned(), beyond, wrong, reading: held.clone() });
            }
        }
        outcomes
    }

    /// Wrong outcomes farther from the limit than their uncertainty.
    #[must_use]
    pub fn beyond(&self) -> usize {
        self.complies_beyond + self.exceeds_beyond
    }
}

/// Whether the true level is farther from the limit than the stated uncertainty; without one it is.
fn beyond(held: &Held) -> bool {
    held.expanded.is_none_or(|expanded| held.from_limit() > expanded)
}

impl Told {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        told(&self.unit, &self.reading)
    }
}

/// One reading of a unit in words.
pub(super) fn told(unit: &str, held: &Held) -> String {
    let Held { order, truth, limits: [low, high], found, expanded, above_floor, .. } = held;
    let figure = |level: Option<f64>| level.map_or("none".to_owned(), |level| format!("{level:.2}"));
    let read = match found {
        Found::Value(level) => format!("{level:.2} dBm"),
        Found::Bound(level) => format!("at most {level:.2} dBm"),
        Found::Nothing => "nothing".to_owned(),
    };
    let limits = if low.is_finite() { format!("{low:.2}..{high:.2}") } else { format!("{high:.2}") };
    let floor = above_floor.map_or(String::new(), |distance| format!(", {distance:.1} dB above the floor"));
    format!(
        "unit {unit}, order {order}: true level {} dBm, limit {limits} dBm, read {read}, U {} dB{floor}",
        figure(*truth),
        figure(*expanded),
    )
}
