//! Whether what is stated with a figure holds the truth.

use serde::Serialize;
use spurline_record::Outcome;

use super::outcomes::told;
use super::{Share, Unit};
use crate::truth::held::{Found, Held};

/// How many figures hold the truth.
#[derive(Clone, Debug, Serialize)]
pub struct Coverage {
    /// Values of carriers whose interval holds the truth.
    pub carrier: Share,
    /// Values of harmonics whose interval holds the truth.
    pub harmonic: Share,
    /// Ranges that hold the truth, widened by their uncertainty.
    pub range: Share,
    /// Readings of lines that the unit does not have, and nothing else is there, for which a value was given all the same.
    pub value_of_nothing: Share,
    /// Bounds that lie below the truth.
    pub bound_below_truth: Share,
    /// Bounds that lie below the truth by more than their uncertainty.
    pub bound_far_below_truth: Share,
    /// Each of those in words.
    pub bounds_told: Vec<String>,
}

impl Coverage {
    pub(super) fn of(units: &[Unit<'_>]) -> Self {
        let values =
            |carrier: bool| Share::count(units, |held| held.holds().filter(|_| (held.order == 1) == carrier));
        Self {
            carrier: values(true),
            harmonic: values(false),
            range: Share::count(units, Held::range_holds),
            value_of_nothing: Share::count(units, |held| {
                let nothing = held.truth.is_none() && !held.ambient && held.found != Found::Nothing;
                nothing.then(|| held.holds().is_some())
            }),
            bound_below_truth: Share::count(units, |held| Some(above_bound(held)? > 0.0)),
            bound_far_below_truth: Share::count(units, is_broken),
            bounds_told: units
                .iter()
                .flat_map(|unit| unit.readings.iter().map(|held| (unit.name, held)))
                .filter(|(_, held)| is_broken(held) == Some(true))
                .map(|(unit, held)| told(unit, held))
                .collect(),
        }
    }
}

/// Whether the truth lies above a bound by more than its uncertainty; `None` if it is no bound.
fn is_broken(held: &Held) -> Option<bool> {
    Some(above_bound(held)? > held.expanded?)
}

/// How far the truth lies above a bound; of a line that is not there, infinitely far below.
fn above_bound(held: &Held) -> Option<f64> {
    match held.found {
        Found::Bound(bound) if held.outcome != Outcome::Invalid => {
            Some(held.truth.map_or(f64::NEG_INFINITY, |truth| truth - bound))
        }
        _ => None,
    }
}
