//! An uncertainty budget as it was used for one reading.

use serde::{Deserialize, Serialize};
use spurline_units::Db;

use crate::quantity::Unit;

/// One contribution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// What contributes.
    pub name: String,
    /// The figure as it was stated, in the unit of the budget.
    pub value: f64,
    /// How it is distributed, in words: `normal, k = 2`, `rectangular`, `U-shaped`, …
    pub distribution: String,
    /// Its standard uncertainty.
    pub standard: f64,
    /// Degrees of freedom, where they are few.
    #[serde(default)]
    pub freedom: Option<f64>,
    /// The file and key that the figure came from, or how it was computed.
    pub source: String,
}

/// How a coverage factor was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CoverageMethod {
    /// Two, as for a normal distribution.
    #[default]
    Normal,
    /// Student's, for few degrees of freedom.
    Student,
    /// From the distributions of all contributions, one of which dominates and is not normal.
    Convolution,
}

impl Budget {
    /// The expanded uncertainty of a level.
    #[must_use]
    pub fn expanded_db(&self) -> Option<Db> {
        self.expanded_in(Unit::Db).map(Db::new)
    }

    /// The expanded uncertainty, if it is in this unit.
    #[must_use]
    pub fn expanded_in(&self, unit: Unit) -> Option<f64> {
        (self.unit == unit).then_some(self.expanded)
    }

    /// How the coverage factor was found, in words with figures; nothing for two.
    #[must_use]
    pub fn factor_words(&self) -> String {
        match (self.method, self.effective_freedom) {
            (CoverageMethod::Student, Some(freedom)) => {
                format!("of Student's t with {freedom:.1} effective degrees of freedom, for 95 %")
            }
            (CoverageMethod::Convolution, _) => {
                "of the convolution of all lines, one of which dominates and is not normal, for 95 %"
                    .to_owned()
            }
            (CoverageMethod::Normal | CoverageMethod::Student, _) => String::new(),
        }
    }
}

/// All contributions to one reading and what they come to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Budget {
    /// The unit of all its figures.
    #[serde(default)]
    pub unit: Unit,
    /// The contributions.
    pub lines: Vec<BudgetLine>,
    /// The root of the sum of their squares.
    pub combined: f64,
    /// The coverage factor.
    pub coverage_factor: f64,
    /// Coverage factor times combined: about 95 %.
    pub expanded: f64,
    /// How the factor was found.
    #[serde(default)]
    pub method: CoverageMethod,
    /// Effective degrees of freedom, where a line limits them.
    #[serde(default)]
    pub effective_freedom: Option<f64>,
}
