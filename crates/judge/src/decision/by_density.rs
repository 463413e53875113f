//! Decisions by a coverage interval and a distribution, for readings whose uncertainty is not simply normal.

use spurline_units::{Db, Dbm, Range};

use super::{Decision, DecisionRule, Verdict, judge_bound, judge_upper, judge_window};
use crate::budget::Coverage;
use crate::density::Density;

/// What comes of a reading under a rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Judgement {
    /// The rule gives a verdict, which may be that the evidence is not enough.
    Decided(Decision),
    /// The expanded uncertainty is above what the rule admits, so the method is not fit for it; the decision has its
    /// margin and probability, and is undecided.
    TooUncertain {
        /// The expanded uncertainty of the reading.
        expanded: Db,
        /// The most that the rule admits.
        ceiling: Db,
        /// What would be known.
        decision: Decision,
    },
}

impl Judgement {
    /// The decision, undecided if the reading is too uncertain for the rule.
    #[must_use]
    pub const fn decision(self) -> Decision {
        match self {
            Self::Decided(decision) | Self::TooUncertain { decision, .. } => decision,
        }
    }
}

/// Judges a level against an upper limit. The guard band is in proportion to the larger side of the coverage interval;
/// the probability that the true level is within the limit is that of the distribution.
#[must_use]
pub fn judge_upper_by(
    level: Dbm,
    limit: Dbm,
    coverage: &Coverage,
    density: &Density,
    rule: DecisionRule,
) -> Judgement {
    let probability = density.probability_below(limit - level);
    marked(judge_upper(level, limit, coverage.expanded, rule), probability, coverage, rule)
}

/// Judges a bound, below which the true level lies, against an upper limit as [`judge_upper_by`] does; it is never
/// exceeded by one.
#[must_use]
pub fn judge_bound_by(
    bound: Dbm,
    limit: Dbm,
    coverage: &Coverage,
    density: &Density,
    rule: DecisionRule,
) -> Judgement {
    let probability = density.probability_below(limit - bound);
    marked(judge_bound(bound, limit, coverage.expanded, rule), probability, coverage, rule)
}

/// Judges a level that must lie in a window, ends included, as [`judge_upper_by`] does.
#[must_use]
pub fn judge_window_by(
    level: Dbm,
    window: Range<Dbm>,
    coverage: &Coverage,
    density: &Density,
    rule: DecisionRule,
) -> Judgement {
    let below = |end: Dbm| density.probability_below(end - level);
    let probability = (below(window.high()) - below(window.low())).max(0.0);
    marked(judge_window(level, window, coverage.expanded, rule), probability, coverage, rule)
}

fn marked(decision: Decision, probability: f64, coverage: &Coverage, rule: DecisionRule) -> Judgement {
    let decision = Decision { conformance_probability: probability, ..decision };
    let expanded = coverage.expanded.abs();
    match rule {
        DecisionRule::Simple { ceiling: Some(ceiling) } if expanded > ceiling => Judgement::TooUncertain {
            expanded,
            ceiling,
            decision: Decision { verdict: Verdict::Undecided, ..decision },
        },
        DecisionRule::Simple { .. } | DecisionRule::GuardBand { .. } => Judgement::Decided(decision),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::budget::{Budget, COVERAGE_PROBABILITY, Contribution, Distribution};

    const GUARDED: DecisionRule = DecisionRule::GuardBand { factor: 1.0 };

    fn one_line(value: f64, kind: Distribution) -> (Coverage, Density) {
        let budget = Budget { lines: vec![Contribution::new("line", Db::new(value), kind, "test")] };
        (budget.coverage(COVERAGE_PROBABILITY), budget.density())
    }

    fn upper(level: f64, of: &(Coverage, Density), rule: DecisionRule) -> Judgement {
        judge_upper_by(Dbm::new(level), Dbm::new(-36.0), &of.0, &of.1, rule)
    }

    /// An echo of 0.7 x 0.333 alone. numpy 2.4.6: its 95 % interval is -2.2946 to 1.8159 dB, and a share of
    /// 1 - acos((10^0.1 - 1 - r^2) / 2 r) / pi = 0.632 872 of all phases lifts by less than 1 dB.
    #[test]
    fn a_skewed_reading() {
        let echo = one_line(20.0 * 1.2331f64.log10(), Distribution::Mismatch { product: 0.2331 });
        let found = upper(-37.0, &echo, GUARDED).decision();
        assert_eq!(found.verdict, Verdict::Undecided);
        assert!((found.conformance_probability - 0.644_612).abs() < 2e-4, "{found:?}");
        assert_eq!(upper(-38.31, &echo, GUARDED).decision().verdict, Verdict::Complies);
        assert_eq!(upper(-38.28, &echo, GUARDED).decision().verdict, Verdict::Undecided);
        // Nothing lifts by two decibels.
        assert!(upper(-38.0, &echo, GUARDED).decision().conformance_probability > 0.999_999);
    }

    #[test]
    fn beyond_the_ceiling_there_is_a_mark_of_its_own() {
        let of = one_line(1.6, Distribution::Standard);
        let rule = DecisionRule::Simple { ceiling: Some(Db::new(3.0)) };
        let Judgement::TooUncertain { expanded, ceiling, decision } = upper(-45.0, &of, rule) else {
            panic!("3.2 dB is above the ceiling");
        };
        assert_eq!((expanded, ceiling, decision.verdict), (Db::new(3.2), Db::new(3.0), Verdict::Undecided));
        assert!(decision.conformance_probability > 0.999);
        let of = one_line(1.5, Distribution::Standard);
        assert!(matches!(upper(-45.0, &of, rule), Judgement::Decided(d) if d.verdict == Verdict::Complies));
        let bound = judge_bound_by(Dbm::new(-30.0), Dbm::new(-36.0), &of.0, &of.1, rule);
        assert!(matches!(bound, Judgement::Decided(d) if d.verdict == Verdict::Undecided));
    }

    proptest! {
        /// With a normal distribution nothing is other than by the expanded uncertainty alone.
        #[test]
        fn normal_readings_are_judged_as_ever(level in -50.0..-20.0f64, u in 0.01..3.0f64, factor in 0.0..3.0f64) {
            let of = one_line(u, Distribution::Standard);
            let rule = DecisionRule::GuardBand { factor };
            let known = judge_upper(Dbm::new(level), Dbm::new(-36.0), of.0.expanded, rule);
            let found = upper(level, &of, rule).decision();
            prop_assert_eq!((found.verdict, found.margin), (known.verdict, known.margin));
            prop_assert!((found.conformance_probability - known.conformance_probability).abs() < 1e-12);

            let window = Range::new(Dbm::new(-40.0), Dbm::new(-36.0)).unwrap();
            let known = judge_window(Dbm::new(level), window, of.0.expanded, rule);
            let found = judge_window_by(Dbm::new(level), window, &of.0, &of.1, rule).decision();
            prop_assert_eq!(found.verdict, known.verdict);
            prop_assert!((found.conformance_probability - known.conformance_probability).abs() < 1e-12);
        }
    }
}
