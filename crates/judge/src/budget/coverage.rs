//! The interval that holds the true level with a stated probability, by the simplest method that is right for the
//! budget.

use std::f64::consts::FRAC_1_SQRT_2;

use spurline_units::Db;

use super::{Budget, COVERAGE, Distribution};
use crate::density::{Density, inside};
use crate::normal::normal_quantile;
use crate::student::student_quantile;

/// The coverage probability that goes with [`COVERAGE`]; the trade calls the 95.45 % of two standard uncertainties
/// 95 % (EA-4/02 M:2022, 5.1).
pub const COVERAGE_PROBABILITY: f64 = 0.95;

/// A line above this share of the combined uncertainty has more variance than all others together, and the sum begins
/// to look like that line instead of a normal distribution. Up to there k = 2 covers 95 % at least: an arcsine of just
/// this share with a normal rest is within 2 u with 96.2 %.
const DOMINANT: f64 = FRAC_1_SQRT_2;

/// From these effective degrees of freedom on Student's factor for 95 % is below two.
const AS_MANY_AS_ANY: f64 = 60.0;

/// How a coverage interval was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CoverageMethod {
    /// No line dominates and no few readings count: the factor of the normal distribution, two for 95 %.
    Normal,
    /// Few degrees of freedom: the factor is Student's (JCGM 100:2008, G.3 and G.4). That is an approximation: where
    /// three readings make most of the variance it holds the truth 92 % of the time instead of 95 %, with five
    /// readings 94 %, with ten 95 % (400 000 draws by numpy 2.4.6).
    Student,
    /// One line that is not normal dominates: the distributions of all lines were convolved (JCGM 101:2008, 7.7).
    Convolution,
}

/// Where the true level lies about the reading with a stated probability.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// The least that true level minus reading can be, a negative number.
    pub low: Db,
    /// The most that true level minus reading can be.
    pub high: Db,
    /// The larger of the two without its sign, so that one figure is safe on both sides.
    pub expanded: Db,
    /// That over the combined standard uncertainty; two for a budget without uncertainty.
    pub factor: f64,
    /// The effective degrees of freedom; `None` if no line limits them.
    pub effective_freedom: Option<f64>,
    /// How it was found.
    pub method: CoverageMethod,
}

impl Budget {
    /// The coverage interval of probability `p`, taken within 1e-9 of 0 and 1.
    ///
    /// # Panics
    ///
    /// If the coverage factor of a normal distribution is zero.
    #[must_use]
    pub fn coverage(&self, p: f64) -> Coverage {
        self.coverage_by(p, Self::density)
    }

    /// The same for whoever has the distribution of this very budget already.
    #[must_use]
    pub fn coverage_with(&self, p: f64, density: &Density) -> Coverage {
        self.coverage_by(p, |_| density.clone())
    }

    fn coverage_by(&self, p: f64, density: impl Fn(&Self) -> Density) -> Coverage {
        let p = inside(p);
        let combined = self.combined();
        let effective_freedom = self.effective_freedom();
        let symmetric = |factor: f64, method| Coverage {
            low: -(combined * factor),
            high: combined * factor,
            expanded: combined * factor,
            factor,
            effective_freedom,
            method,
        };
        if self.is_dominated() {
            let (low, high) = density(self).interval(p);
            let expanded = low.abs().max(high.abs());
            let factor = expanded.get() / combined.get();
            return Coverage {
                low,
                high,
                expanded,
                factor,
                effective_freedom,
                method: CoverageMethod::Convolution,
            };
        }
        let upper = 0.5 + 0.5 * p;
        match effective_freedom.filter(|freedom| *freedom < AS_MANY_AS_ANY) {
            Some(freedom) => {
                let factor = student_quantile(upper, freedom).expect("a probability and degrees above zero");
                symmetric(factor, CoverageMethod::Student)
            }
            None if p == COVERAGE_PROBABILITY => symmetric(COVERAGE, CoverageMethod::Normal),
            None => symmetric(normal_quantile(upper).expect("a probability"), CoverageMethod::Normal),
        }
    }

    /// Whether one line that is not normal has more variance than all others together.
    fn is_dominated(&self) -> bool {
        let most = self.combined().get() * DOMINANT;
        self.lines.iter().any(|line| {
            let normal = matches!(line.distribution, Distribution::Normal { .. } | Distribution::Standard);
            !normal && line.standard().get() > most
        })
    }
}
