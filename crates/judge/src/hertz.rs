//! Budgets and decisions of figures in hertz: widths, and frequencies.
//!
//! In hertz as in decibels the model is a sum in which every sensitivity is one, so that the arithmetic is that of
//! [`Budget`], one of its decibels standing for one hertz; here it only gets its right types back.

use spurline_units::{Db, Dbm, Hertz, Range};

use crate::budget::{Budget, Contribution, CoverageMethod, Distribution};
use crate::decision::{Decision, DecisionRule, Verdict, judge_upper, judge_window};
use crate::spread::Spread;

/// All that is uncertain about a figure in hertz; the lines are independent of each other.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HertzBudget(Budget);

/// How the true figure is spread about a reading in hertz.
#[derive(Clone, Debug, PartialEq)]
pub struct HertzSpread(Spread);

/// A verdict on a figure in hertz, and how clear it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HertzDecision {
    /// The verdict.
    pub verdict: Verdict,
    /// How far within its limits the figure lies: positive is good; the smaller of two margins.
    pub margin: Hertz,
    /// The probability that the true figure keeps the limits, 0 to 1.
    pub conformance_probability: f64,
}

/// An expanded uncertainty in hertz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HertzCoverage {
    /// The expanded uncertainty.
    pub expanded: Hertz,
    /// The same over the combined one.
    pub factor: f64,
    /// How it was found.
    pub method: CoverageMethod,
    /// The effective degrees of freedom, if anything limits them.
    pub effective_freedom: Option<f64>,
}

impl HertzBudget {
    /// The same with one more line: see [`Contribution::new`].
    #[must_use]
    pub fn with(
        self,
        name: impl Into<String>,
        value: Hertz,
        distribution: Distribution,
        source: impl Into<String>,
    ) -> Self {
        self.with_line(Contribution::new(name, as_db(value), distribution, source))
    }

    /// The same with one more line that rests on so many degrees of freedom.
    #[must_use]
    pub fn with_scatter(
        self,
        name: impl Into<String>,
        standard: Hertz,
        freedom: f64,
        source: impl Into<String>,
    ) -> Self {
        let line = Contribution::new(name, as_db(standard), Distribution::Standard, source);
        self.with_line(line.with_freedom(freedom))
    }

    fn with_line(mut self, line: Contribution) -> Self {
        self.0.lines.push(line);
        self
    }

    /// The lines as figures: where they say decibels, hertz are meant.
    #[must_use]
    pub const fn figures(&self) -> &Budget {
        &self.0
    }

    /// The combined standard uncertainty.
    #[must_use]
    pub fn combined(&self) -> Hertz {
        Hertz::new(self.0.combined().get())
    }

    /// The expanded uncertainty for a coverage probability.
    #[must_use]
    pub fn coverage(&self, probability: f64) -> HertzCoverage {
        let coverage = self.0.coverage(probability);
        HertzCoverage {
            expanded: Hertz::new(coverage.expanded.get()),
            factor: coverage.factor,
            method: coverage.method,
            effective_freedom: coverage.effective_freedom,
        }
    }
}

impl HertzSpread {
    /// That of a budget.
    #[must_use]
    pub fn of(budget: &HertzBudget) -> Self {
        Self(Spread::of(&budget.0))
    }

    /// The expanded uncertainty, never negative.
    #[must_use]
    pub fn expanded(&self) -> Hertz {
        Hertz::new(self.0.expanded().get())
    }
}

/// Judges a figure against the ends of what is allowed, ends included; an end that is absent does not bind. `None`
/// without any end, or with ends the wrong way round.
///
/// A rule's ceiling of uncertainty is one in decibels and says nothing of hertz.
#[must_use]
pub fn judge_hertz(
    figure: Hertz,
    low: Option<Hertz>,
    high: Option<Hertz>,
    spread: &HertzSpread,
    rule: DecisionRule,
) -> Option<HertzDecision> {
    let rule = match rule {
        DecisionRule::GuardBand { .. } => rule,
        DecisionRule::Simple { .. } => DecisionRule::Simple { ceiling: None },
    };
    let figure = as_dbm(figure);
    let decision = match (low.map(as_dbm), high.map(as_dbm)) {
        (None, None) => return None,
        (None, Some(high)) => judge_upper(figure, high, &spread.0, rule),
        // A lower limit is an upper one seen from below: no line of these budgets leans to one side.
        (Some(low), None) => judge_upper(mirrored(figure), mirrored(low), &spread.0, rule),
        (Some(low), Some(high)) => judge_window(figure, Range::new(low, high)?, &spread.0, rule),
    };
    Some(HertzDecision::from(decision))
}

impl From<Decision> for HertzDecision {
    fn from(decision: Decision) -> Self {
        Self {
            verdict: decision.verdict,
            margin: Hertz::new(decision.margin.get()),
            conformance_probability: decision.conformance_probability,
        }
    }
}

fn as_db(value: Hertz) -> Db {
    Db::new(value.get())
}

fn as_dbm(value: Hertz) -> Dbm {
    Dbm::new(value.get())
}

fn mirrored(value: Dbm) -> Dbm {
    Dbm::new(-value.get())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::budget::COVERAGE_PROBABILITY;

    fn budget(standard: f64) -> HertzBudget {
        HertzBudget::default().with("line", Hertz::new(standard), Distribution::Standard, "test")
    }

    const GUARD: DecisionRule = DecisionRule::GuardBand { factor: 1.0 };

    fn judged(figure: f64, low: Option<f64>, high: Option<f64>) -> HertzDecision {
        let spread = HertzSpread::of(&budget(20.0));
        let [low, high] = [low, high].map(|end| end.map(Hertz::new));
        judge_hertz(Hertz::new(figure), low, high, &spread, GUARD).unwrap()
    }

    /// scipy 1.17.1: 30 Hz rectangular and 10 Hz standard are a standard deviation of 20 Hz, and 95 % of their sum lie within
    /// 36.7111 Hz (`integrate.quad` over `stats.norm.cdf`, `optimize.brentq`); of a normal distribution it were 39.2 Hz.
    #[test]
    fn hertz_are_combined_as_decibels_are() {
        let budget = budget(10.0).with("spacing", Hertz::new(30.0), Distribution::Rectangular, "test");
        assert!((budget.combined().get() - 20.0).abs() < 1e-9);
        let coverage = budget.coverage(COVERAGE_PROBABILITY);
        assert!((coverage.expanded.get() - 36.711_1).abs() < 0.01, "{coverage:?}");
    }

    /// With U = 40 Hz: a width of 950 Hz keeps 1 kHz, one of 970 Hz is too near, one of 1050 Hz exceeds.
    #[test]
    fn an_upper_limit() {
        for (figure, verdict) in
            [(950.0, Verdict::Complies), (970.0, Verdict::Undecided), (1050.0, Verdict::Exceeds)]
        {
            let found = judged(figure, None, Some(1000.0));
            assert_eq!((found.verdict, found.margin), (verdict, Hertz::new(1000.0 - figure)), "{figure}");
        }
    }

    #[test]
    fn a_lower_limit_and_a_window() {
        assert_eq!(judged(-900.0, Some(-1000.0), None).verdict, Verdict::Complies);
        assert_eq!(judged(-1100.0, Some(-1000.0), None).verdict, Verdict::Exceeds);
        let near = judged(-330.0, Some(-360.0), Some(360.0));
        assert_eq!((near.verdict, near.margin), (Verdict::Undecided, Hertz::new(30.0)));
        assert_eq!(judged(-410.0, Some(-360.0), Some(360.0)).verdict, Verdict::Exceeds);
        let spread = HertzSpread::of(&budget(1.0));
        assert_eq!(judge_hertz(Hertz::new(0.0), None, None, &spread, GUARD), None);
    }

    /// The ceiling of a simple comparison is one in decibels.
    #[test]
    fn a_ceiling_in_decibels_says_nothing_of_hertz() {
        let rule = DecisionRule::Simple { ceiling: Some(Db::new(3.0)) };
        let spread = HertzSpread::of(&budget(20.0));
        let found = judge_hertz(Hertz::new(999.0), None, Some(Hertz::new(1000.0)), &spread, rule).unwrap();
        assert_eq!(found.verdict, Verdict::Complies);
    }

    proptest! {
        /// A larger figure is never better against an upper limit, and the scale does not matter.
        #[test]
        fn a_larger_figure_is_never_better(figure in -1e5..1e5f64, more in 0.0..1e5f64, u in 0.1..1e4f64, scale in 0.01..100.0f64) {
            let at = |figure: f64, scale: f64| {
                let spread = HertzSpread::of(&budget(u * scale));
                judge_hertz(Hertz::new(figure * scale), None, Some(Hertz::new(1e4 * scale)), &spread, GUARD).unwrap()
            };
            let rank = |decision: &HertzDecision| match decision.verdict {
                Verdict::Complies => 0, Verdict::Undecided => 1, Verdict::Exceeds => 2,
            };
            let (one, other) = (at(figure, 1.0), at(figure + more, 1.0));
            prop_assert!(rank(&one) <= rank(&other) && one.conformance_probability >= other.conformance_probability - 1e-12);
            let scaled = at(figure, scale);
            prop_assert!((scaled.conformance_probability - one.conformance_probability).abs() < 1e-6);
        }
    }
}
