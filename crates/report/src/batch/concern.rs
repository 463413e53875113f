//! What of a batch somebody has to look at: each figure that does not comply, with its unit and why.

use spurline_record::Outcome;

use super::{Batch, Dot, Row};
use crate::figures;

/// Readings of one outcome, under what they are called.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Concern {
    /// What they have in common.
    pub heading: &'static str,
    /// The outcome.
    pub outcome: Outcome,
    /// A line for each figure.
    pub lines: Vec<String>,
}

impl Concern {
    /// The style class of its lines.
    #[must_use]
    pub const fn class(&self) -> &'static str {
        figures::class(self.outcome)
    }
}

impl Batch {
    /// All that does not comply, the gravest first; what nothing has is left out.
    #[must_use]
    pub fn concerns(&self) -> Vec<Concern> {
        let kinds = [
            (Outcome::Exceeds, "What exceeds"),
            (Outcome::Invalid, "What is invalid"),
            (Outcome::Undecided, "What is undecided"),
            (Outcome::NoLimit, "What has no limit"),
        ];
        let all = kinds.map(|(outcome, heading)| {
            let of_row = |row: &Row| -> Vec<String> {
                row.units.iter().filter(|dot| dot.outcome == outcome).map(|dot| row.told(dot)).collect()
            };
            Concern { heading, outcome, lines: self.readings.iter().flat_map(of_row).collect() }
        });
        all.into_iter().filter(|one| !one.lines.is_empty()).collect()
    }

    /// Serial numbers of the units with a reading of this outcome, in order.
    #[must_use]
    pub fn serials_with(&self, outcome: Outcome) -> Vec<String> {
        let dots = self.readings.iter().flat_map(|row| &row.units);
        let mut serials: Vec<String> =
            dots.filter(|dot| dot.outcome == outcome).map(|dot| dot.serial.clone()).collect();
        serials.sort();
        serials.dedup();
        serials
    }
}

impl Row {
    /// One unit's figure in words: whose, of what, where, against which limit, and why it is what it is.
    pub(crate) fn told(&self, dot: &Dot) -> String {
        let bound = if dot.bound { "at most " } else { "" };
        let value = dot.value.map_or_else(
            || "no figure that counts".to_owned(),
            |value| format!("{bound}{value:.2} {}", self.unit),
        );
        let limit = match dot.limit.as_str() {
            "–" => String::new(),
            limit if self.limits_differ => format!(", limit {limit} by {}", dot.rule),
            limit => format!(", limit {limit}"),
        };
        let why = dot.reason.as_ref().map(|why| format!(": {why}")).unwrap_or_default();
        format!("{}: {} at {}, {}: {value}{limit}{why}", dot.serial, self.title, self.frequency(), self.place)
    }
}
