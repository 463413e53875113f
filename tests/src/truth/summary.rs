//! What a crowd of subjects shows: wrong outcomes, what stays undecided, whether stated uncertainties hold.

mod coverage;
mod outcomes;
mod share;
mod strata;
mod targets;
mod undecided;

use std::collections::BTreeMap;

use serde::Serialize;
use spurline_record::Outcome;

pub use coverage::Coverage;
pub use outcomes::{Outcomes, Told};
pub use share::Share;
pub use strata::Stratum;
pub use targets::Target;
pub use undecided::Undecided;

use super::crowd::Crowd;
use super::held::Held;

/// What a crowd of subjects shows.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// Subjects that were measured to the end.
    pub units: usize,
    /// Those that were not, by name and why.
    pub broken: Vec<(String, String)>,
    /// Readings of all subjects.
    pub readings: usize,
    /// Key-down time of a subject, mean, s.
    pub keyed_s: f64,
    /// Readings by what they came to.
    pub by_outcome: BTreeMap<String, usize>,
    /// Wrong outcomes.
    pub outcomes: Outcomes,
    /// What stays undecided.
    pub undecided: Undecided,
    /// Whether values and bounds hold the truth.
    pub coverage: Coverage,
    /// The same by kind of reading, and where stated variances come from.
    pub strata: Vec<Stratum>,
    /// The targets, and whether they are kept.
    pub targets: Vec<Target>,
}

impl Summary {
    /// Sums up.
    #[must_use]
    pub fn of(crowd: &Crowd) -> Self {
        let mut units: Vec<Unit<'_>> = Vec::new();
        let mut broken = Vec::new();
        let mut keyed = 0.0;
        for member in &crowd.0 {
            match &member.ran {
                Ok(ran) => {
                    keyed += ran.keyed.get();
                    units.push(Unit { name: &member.name, readings: &ran.readings });
                }
                Err(why) => broken.push((member.name.clone(), why.to_string())),
            }
        }
        let mut by_outcome = BTreeMap::new();
        for held in units.iter().flat_map(|unit| unit.readings) {
            *by_outcome.entry(word(held)).or_insert(0) += 1;
        }
        let mut summary = Self {
            units: units.len(),
            broken,
            readings: units.iter().map(|unit| unit.readings.len()).sum(),
            keyed_s: keyed / units.len().max(1) as f64,
            by_outcome,
            outcomes: Outcomes::of(&units),
            undecided: Undecided::of(&units),
            coverage: Coverage::of(&units),
            strata: strata::all(&units),
            targets: Vec::new(),
        };
        summary.targets = targets::of(&summary);
        summary
    }

    /// Whether every target is kept.
    #[must_use]
    pub fn keeps_all(&self) -> bool {
        self.targets.iter().all(|target| target.kept)
    }
}

/// The readings of one subject: their errors share causes, so that scatter is reckoned from subject to subject.
pub(super) struct Unit<'c> {
    pub(super) name: &'c str,
    pub(super) readings: &'c [Held],
}

fn word(held: &Held) -> String {
    match (held.outcome, held.reason) {
        (Outcome::Complies | Outcome::Exceeds, _) | (_, None) => held.outcome.word().to_owned(),
        (outcome, Some(reason)) => format!("{}: {}", outcome.word(), reason.code()),
    }
}
