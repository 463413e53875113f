//! What a line comes to against its limits.

use spurline_judge::{Decision, Spread, Verdict, judge_bound, judge_upper};
use spurline_path::Distorted;
use spurline_record::{Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Db, Dbm};

use super::apparent::Apparent;
use super::{LineCase, Unkeyed};
use crate::ambient::Source;
use crate::conversion;

/// Judges against one limit. The most that the line can be shows that it complies, the least that it exceeds; for
/// a value both are the value, and what the own product may have done is in its uncertainty.
fn judged(case: &LineCase<'_>, apparent: &Apparent, spread: &Spread, limit: Dbm) -> Decision {
    let rule = conversion::rule(&case.job.plan);
    if apparent.bound.is_none() {
        return judge_upper(apparent.level, limit, spread, rule);
    }
    let by_most = judge_bound(apparent.level, limit, spread, rule);
    if by_most.verdict == Verdict::Complies && apparent.highest.is_none() {
        // Nobody guarantees what the analyser may have cancelled.
        return Decision { verdict: Verdict::Undecided, ..by_most };
    }
    let highest = apparent.highest.map(|high| judge_bound(high, limit, spread, rule));
    let lowest = apparent.lowest.map(|low| judge_upper(low, limit, spread, rule));
    let verdict = match (highest.map(|by| by.verdict), lowest.map(|by| by.verdict)) {
        (Some(Verdict::Complies), _) => Verdict::Complies,
        (_, Some(Verdict::Exceeds)) => Verdict::Exceeds,
        _ => Verdict::Undecided,
    };
    Decision { verdict, ..by_most }
}

/// Whether nothing more needs to be known about a line.
pub(super) fn is_decided(case: &LineCase<'_>, apparent: &Apparent, spread: &Spread) -> bool {
    let decision = case.possible.judged(|limit| judged(case, apparent, spread, limit));
    decision.is_none_or(|decision| decision.verdict != Verdict::Undecided)
        // More looks do not make the branches of a rule agree.
        || case.possible.disagree(|limit| judged(case, apparent, spread, limit))
}

/// What else is known of a line's place.
pub(super) struct There<'a> {
    pub(super) unkeyed: Unkeyed,
    /// Whose it is.
    pub(super) source: Source,
    /// What parts of the path make there.
    pub(super) ahead: &'a Distorted,
}

/// Fills outcome, margin and reason in.
pub(super) fn decide(
    case: &LineCase<'_>,
    reading: &mut Reading,
    spread: &Spread,
    apparent: &Apparent,
    there: &There<'_>,
) {
    let There { unkeyed, source, ahead } = there;
    let judge = |limit: Dbm| judged(case, apparent, spread, limit);
    let decision = case.possible.judged(judge);
    if let Some(decision) = &decision {
        reading.margin = Some(decision.margin.into());
        reading.conformance_probability = Some(decision.conformance_probability);
    }
    if let Some((outcome, reason)) = &case.possible.settled {
        (reading.outcome, reading.reason) = (*outcome, Some(reason.clone()));
        return;
    }
    let Some(decision) = decision else {
        reading.outcome = Outcome::NoLimit;
        reading.reason = Some(Reason::new(ReasonCode::NoNumericLimit, "the rule has no numeric limit here"));
        return;
    };
    let ambient = unkeyed.may_be_part(apparent.level);
    (reading.outcome, reading.reason) = if ambient && decision.verdict != Verdict::Complies {
        (Outcome::Invalid, Some(source.reason(unkeyed.level)))
    } else {
        outcome(case, &decision, apparent, spread.expanded(), ahead, case.possible.disagree(judge))
    };
    if let Some(reason) = unkeyed.takes_back(reading, conversion::rule(&case.job.plan)) {
        (reading.outcome, reading.reason) = (Outcome::Undecided, Some(reason));
    }
    if ambient && let (Outcome::Complies, Some(figure)) = (reading.outcome, &mut reading.figure) {
        figure.bound = true;
        reading.proof.lowest =
            apparent.lowest.or(Some(apparent.level)).and_then(|least| unkeyed.leaves(least));
        reading.remarks.push(source.reason(unkeyed.level).text);
    }
}

fn outcome(
    case: &LineCase<'_>,
    decision: &Decision,
    apparent: &Apparent,
    expanded: Db,
    ahead: &Distorted,
    disagree: bool,
) -> (Outcome, Option<Reason>) {
    match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => (Outcome::Exceeds, None),
        Verdict::Undecided if disagree => {
            let limits: Vec<String> = case.possible.levels.iter().map(ToString::to_string).collect();
            let text = format!(
                "the rule leaves several limits possible ({}) and they do not agree",
                limits.join(", ")
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::BranchesDisagree, text)))
        }
        Verdict::Undecided => {
            (Outcome::Undecided, Some(undecided(case, decision, apparent, expanded, ahead)))
        }
    }
}

fn undecided(
    case: &LineCase<'_>,
    decision: &Decision,
    apparent: &Apparent,
    expanded: Db,
    ahead: &Distorted,
) -> Reason {
    if decision.too_uncertain {
        return conversion::too_uncertain(&case.job.plan, expanded);
    }
    if let (Distorted::Unknown(parts), None) = (ahead, apparent.highest) {
        return Reason::new(ReasonCode::OwnDistortion, made_ahead(parts));
    }
    let chance = decision.conformance_probability * 100.0;
    let (code, text) = match (apparent.bound, apparent.lowest.zip(apparent.highest)) {
        (Some(ReasonCode::FloorTooHigh), _) => {
            (ReasonCode::FloorTooHigh, format!("the floor hides everything below {}", apparent.level))
        }
        (Some(ReasonCode::NoiseLike), _) => (
            ReasonCode::NoiseLike,
            format!(
                "the keyed unit adds noise: with as much of it as the limit's bandwidth holds the level may be up to {}",
                apparent.level
            ),
        ),
        (Some(_), None) if apparent.highest.is_none() => (
            ReasonCode::OwnDistortion,
            "nobody guarantees what the analyser makes itself, and the looks at it do not tell".to_owned(),
        ),
        (Some(_), None) => (
            ReasonCode::OwnDistortion,
            format!("with what the analyser may make itself the level may be up to {}", apparent.level),
        ),
        (Some(_), Some((low, high))) => (
            ReasonCode::OwnDistortion,
            format!(
                "with what the analyser may make itself the level lies between {low} and {high}, give or take {expanded}"
            ),
        ),
        _ => (
            ReasonCode::WithinUncertainty,
            format!(
                "{} is within {expanded} of the limit: it is kept with a probability of {chance:.0} %",
                apparent.level
            ),
        ),
    };
    Reason::new(code, text)
}

/// What to tell where no setting of the analyser helps.
fn made_ahead(parts: &[String]) -> String {
    format!(
        "`{}` may make harmonics ahead of the analyser's attenuator, and nobody says how little: put a pad before it and see \
         whether the level stays, or read by a path without it",
        parts.join("`, `")
    )
}
