//! The carrier's power along a key-down.

use spurline_document::Span;
use spurline_units::Seconds;

use crate::job::Job;
use crate::settings::SETTLE;

/// Power against key-down time, as a plan says it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OverTime {
    /// How long the unit is keyed for it.
    pub span: Seconds,
    /// From one reading to the next.
    pub every: Seconds,
    /// Where this stands in the plan.
    pub place: Span,
}

/// What the looks before the first reading and key up need.
const AROUND: f64 = 0.5;

impl OverTime {
    /// How many readings there are, the first at once.
    #[must_use]
    pub fn count(&self) -> u32 {
        (self.span / self.every).floor() as u32 + 1
    }
}

impl Job {
    /// How long the key is down for the course of the power, if the plan wants it.
    #[must_use]
    pub fn time_of_course(&self) -> Option<Seconds> {
        let over_time = self.plan.measure.over_time?;
        Some(over_time.span + Seconds::from(SETTLE) + Seconds::new(AROUND))
    }
}
