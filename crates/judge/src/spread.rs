//! How the true level is spread about a reading, as far as a decision needs to know.

use spurline_units::Db;

use crate::budget::{Budget, COVERAGE, COVERAGE_PROBABILITY};
use crate::density::Density;

/// The expanded uncertainty of a reading and the distribution behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    expanded: Db,
    density: Density,
}

impl Spread {
    /// That of a budget: the larger side of its 95 % interval, and the distribution of all its lines.
    ///
    /// # Panics
    ///
    /// If the coverage factor of a normal distribution is zero.
    #[must_use]
    pub fn of(budget: &Budget) -> Self {
        let density = budget.density();
        Self { expanded: budget.coverage_with(COVERAGE_PROBABILITY, &density).expanded.abs(), density }
    }

    /// A normal distribution of an expanded uncertainty for k = 2; a sign lost on the way counts for nothing.
    #[must_use]
    pub fn normal(expanded: Db) -> Self {
        let expanded = expanded.abs();
        Self { expanded, density: Density::normal(expanded / COVERAGE) }
    }

    /// The expanded uncertainty, never negative.
    #[must_use]
    pub const fn expanded(&self) -> Db {
        self.expanded
    }

    /// The probability that true level minus reading is at most `deviation`.
    #[must_use]
    pub(crate) fn probability_below(&self, deviation: Db) -> f64 {
        self.density.probability_below(deviation)
    }
}
