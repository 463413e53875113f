//! What a reading says about its limit, by the decision rule agreed beforehand.

mod by_density;

use spurline_units::{Db, Dbm, Range};

use crate::budget::COVERAGE;
use crate::normal::normal_cdf;

pub use by_density::{Judgement, judge_bound_by, judge_upper_by, judge_window_by};

/// How uncertainty enters the verdict (ISO/IEC 17025:2017, 3.7 and 7.1.3).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DecisionRule {
    /// A guard band on either side of the limit, in proportion to the expanded uncertainty (ILAC-G8:09/2019).
    GuardBand {
        /// How wide the band is over the expanded uncertainty: 1 after ILAC-G8, 0.83 for a risk of 5 % where the
        /// uncertainty is normal (ISO 14253-1), 1.5 for three standard uncertainties.
        factor: f64,
    },
    /// The reading alone decides; the risk is shared.
    Simple {
        /// The largest expanded uncertainty with which that is fair; with more nothing is decided.
        ceiling: Option<Db>,
    },
}

/// What a reading says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is within the limit.
    Complies,
    /// It is beyond the limit.
    Exceeds,
    /// The evidence is not enough for either.
    Undecided,
}

/// A verdict and how clear it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decision {
    /// The verdict.
    pub verdict: Verdict,
    /// Limit minus level: positive is good. For a window the smaller of the two margins.
    pub margin: Db,
    /// The probability that the true level is within the limit, 0 to 1, for a normal distribution about the
    /// reading; for a bound the least that it can be.
    pub conformance_probability: f64,
}

/// Judges a level against an upper limit; `expanded` is the uncertainty of the level for k = 2.
#[must_use]
pub fn judge_upper(level: Dbm, limit: Dbm, expanded: Db, rule: DecisionRule) -> Decision {
    let verdict = match guard(expanded, rule) {
        Some(guard) if level + guard <= limit => Verdict::Complies,
        Some(guard) if level - guard > limit => Verdict::Exceeds,
        Some(_) | None => Verdict::Undecided,
    };
    let margin = limit - level;
    Decision { verdict, margin, conformance_probability: probability_below(margin, expanded) }
}

/// Judges a bound, below which the true level lies, against an upper limit: it can show that a limit is kept, but
/// never that one is exceeded.
#[must_use]
pub fn judge_bound(bound: Dbm, limit: Dbm, expanded: Db, rule: DecisionRule) -> Decision {
    let decision = judge_upper(bound, limit, expanded, rule);
    let verdict = match decision.verdict {
        Verdict::Complies => Verdict::Complies,
        Verdict::Exceeds | Verdict::Undecided => Verdict::Undecided,
    };
    Decision { verdict, ..decision }
}

/// Judges a level that must lie in a window, ends included, such as a carrier power with its tolerance.
#[must_use]
pub fn judge_window(level: Dbm, window: Range<Dbm>, expanded: Db, rule: DecisionRule) -> Decision {
    let (low, high) = (window.low(), window.high());
    let verdict = match guard(expanded, rule) {
        Some(guard) if low + guard <= level && level <= high - guard => Verdict::Complies,
        Some(guard) if level - guard > high || level + guard < low => Verdict::Exceeds,
        Some(_) | None => Verdict::Undecided,
    };
    let below_high = probability_below(high - level, expanded);
    let below_low = probability_below(low - level, expanded);
    Decision {
        verdict,
        margin: (high - level).min(level - low),
        conformance_probability: (below_high - below_low).max(0.0),
    }
}

/// One decision from those under every limit that may apply: its verdict stands only if all agree, and margin and
/// probability are those of the strictest. `None` if there is no decision at all.
#[must_use]
pub fn agree(decisions: impl IntoIterator<Item = Decision>) -> Option<Decision> {
    decisions.into_iter().reduce(|one, other| Decision {
        verdict: if one.verdict == other.verdict { one.verdict } else { Verdict::Undecided },
        margin: one.margin.min(other.margin),
        conformance_probability: one.conformance_probability.min(other.conformance_probability),
    })
}

/// How far from the limit the rule wants the reading; `None` if it lets nothing be decided with this uncertainty. A sign
/// lost on the way must not turn the band around.
fn guard(expanded: Db, rule: DecisionRule) -> Option<Db> {
    match rule {
        DecisionRule::GuardBand { factor } => Some(expanded.abs() * factor.max(0.0)),
        DecisionRule::Simple { ceiling } => {
            ceiling.is_none_or(|most| expanded.abs() <= most).then(|| Db::new(0.0))
        }
    }
}

fn probability_below(margin: Db, expanded: Db) -> f64 {
    let standard = expanded.abs().get() / COVERAGE;
    if standard > 0.0 {
        normal_cdf(margin.get() / standard)
    } else if margin.get() >= 0.0 {
        1.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests;
