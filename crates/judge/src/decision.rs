//! What a reading says about its limit, by the decision rule agreed beforehand.

use spurline_units::{Db, Dbm, Range};

use crate::spread::Spread;

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
    /// The probability that the true level is within the limit, 0 to 1, by the distribution about the reading; for a
    /// bound the least that it can be.
    pub conformance_probability: f64,
    /// Whether the expanded uncertainty is above what the rule admits: the method is not fit for it, and nothing is
    /// decided.
    pub too_uncertain: bool,
}

/// Judges a level against an upper limit.
#[must_use]
pub fn judge_upper(level: Dbm, limit: Dbm, spread: &Spread, rule: DecisionRule) -> Decision {
    let guard = guard(spread, rule);
    let verdict = match guard {
        Some(guard) if level + guard <= limit => Verdict::Complies,
        Some(guard) if level - guard > limit => Verdict::Exceeds,
        Some(_) | None => Verdict::Undecided,
    };
    let margin = limit - level;
    let conformance_probability = spread.probability_below(margin);
    Decision { verdict, margin, conformance_probability, too_uncertain: guard.is_none() }
}

/// Judges a bound, below which the true level lies, against an upper limit: it can show that a limit is kept, but
/// never that one is exceeded.
#[must_use]
pub fn judge_bound(bound: Dbm, limit: Dbm, spread: &Spread, rule: DecisionRule) -> Decision {
    let decision = judge_upper(bound, limit, spread, rule);
    let verdict = match decision.verdict {
        Verdict::Complies => Verdict::Complies,
        Verdict::Exceeds | Verdict::Undecided => Verdict::Undecided,
    };
    Decision { verdict, ..decision }
}

/// Judges a level that must lie in a window, ends included, such as a carrier power with its tolerance.
#[must_use]
pub fn judge_window(level: Dbm, window: Range<Dbm>, spread: &Spread, rule: DecisionRule) -> Decision {
    let (low, high) = (window.low(), window.high());
    let guard = guard(spread, rule);
    let verdict = match guard {
        Some(guard) if low + guard <= level && level <= high - guard => Verdict::Complies,
        Some(guard) if level - guard > high || level + guard < low => Verdict::Exceeds,
        Some(_) | None => Verdict::Undecided,
    };
    let below_high = spread.probability_below(high - level);
    let below_low = spread.probability_below(low - level);
    Decision {
        verdict,
        margin: (high - level).min(level - low),
        conformance_probability: (below_high - below_low).max(0.0),
        too_uncertain: guard.is_none(),
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
        too_uncertain: one.too_uncertain || other.too_uncertain,
    })
}

/// How far from the limit the rule wants the reading; `None` if it lets nothing be decided with this uncertainty.
fn guard(spread: &Spread, rule: DecisionRule) -> Option<Db> {
    match rule {
        DecisionRule::GuardBand { factor } => Some(spread.expanded() * factor.max(0.0)),
        DecisionRule::Simple { ceiling } => {
            ceiling.is_none_or(|most| spread.expanded() <= most).then(|| Db::new(0.0))
        }
    }
}

#[cfg(test)]
mod tests;
