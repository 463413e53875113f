//! What cannot be worked out from raw looks: the recorded figure is moved by what the loss of the path changes, its
//! uncertainty gets the lines of the new path, and it is held against the new limit by the same decision.
//!
//! A figure is never made better than it was: where the method was at fault it stays so, and what would exceed only now
//! was never looked at as what exceeds is.

use spurline_judge::{Budget, Decision, Verdict, agree, judge_bound, judge_upper, judge_window};
use spurline_path::{Path, PathError};
use spurline_plan::{Job, Way, analyser_budget, meter_budget};
use spurline_record::{
    JudgedFrom, Limit, Outcome, Quantity, Reading, Reason, ReasonCode, Role, Unit, VerdictReading,
};
use spurline_units::{Db, Dbm, Hertz, Range, Watts};

use super::exchange::{Exchange, exchanged, holds};
use super::recorded as as_recorded;
use crate::conversion;
use crate::possible::{self, MeasuredCarrier, Possible};

/// Reasons that another limit, another uncertainty or another loss may take away; all others are the method's.
const MAY_CHANGE: [ReasonCode; 9] = [
    ReasonCode::WithinUncertainty,
    ReasonCode::TooUncertain,
    ReasonCode::FloorTooHigh,
    ReasonCode::OwnDistortion,
    ReasonCode::NoiseLike,
    ReasonCode::BranchesDisagree,
    ReasonCode::FactMissing,
    ReasonCode::NoNumericLimit,
    ReasonCode::Exempt,
];

/// Judges a reading again by its recorded figure; `carrier` is the one that its limit follows, if that is known.
pub(super) fn judge(
    job: &Job,
    was: &Job,
    carrier: Option<&MeasuredCarrier>,
    recorded: &Reading,
) -> Result<VerdictReading, PathError> {
    // For that alone, nothing is wrong with its figure.
    let outside = recorded.has_reason(ReasonCode::OutsideWindow);
    let Some(figure) = recorded.figure.filter(|_| outside || recorded.outcome != Outcome::Invalid) else {
        return Ok(as_recorded(recorded));
    };
    let limits = if follows_the_rule(recorded) {
        let new = carrier.cloned().or_else(|| carrier_now(job, was, recorded));
        let old = carrier_of(recorded).or_else(|| new.clone());
        let at = |job: &Job, carrier: &MeasuredCarrier| possible::limits(job, carrier, recorded.frequency);
        match (old, new) {
            (Some(old), Some(new)) => Some((at(was, &old), at(job, &new), new)),
            _ if !same_rule(job, was) => {
                return Ok(unsaid(
                    recorded,
                    "the carrier that its limit would follow is not known from the record",
                ));
            }
            _ => None,
        }
    } else {
        None
    };
    let mut reading = recorded.clone();
    // The limit of then may have followed the carrier only at an end of what that may have been.
    let followed = |(old, _, carrier): &(Possible, Possible, MeasuredCarrier)| {
        old.follows_carrier || possible::limits(was, carrier, recorded.frequency).follows_carrier
    };
    let follows = limits.as_ref().map_or_else(|| follows_the_rule(recorded), followed);
    let by = match move_figure(job, was, &mut reading, follows)? {
        Ok(by) => by,
        Err(why) => return Ok(unsaid(recorded, &why)),
    };
    if let Some((_, _, carrier)) = limits.as_ref().filter(|(_, new, _)| new.follows_carrier && !follows) {
        // The limit is as uncertain as the carrier that it follows now.
        let Some(budget) = reading.budget.as_ref().filter(|_| !carrier.budget.lines.is_empty()) else {
            let text =
                "its limit follows the carrier now, and the record does not say how uncertain that was";
            return Ok(unsaid(recorded, text));
        };
        let come = Exchange { then: Budget::default(), now: carrier.budget.clone() };
        match exchanged(budget, &[come]) {
            Ok(budget) => reading.budget = Some(budget),
            Err(why) => return Ok(unsaid(recorded, &why)),
        }
    }
    let same_limits = limits.as_ref().is_none_or(|(old, new, _)| are_same(old, new));
    let same_budget = reading.budget == recorded.budget;
    if by.get() == 0.0
        && same_budget
        && same_limits
        && conversion::rule(&job.plan) == conversion::rule(&was.plan)
    {
        return Ok(as_recorded(recorded));
    }
    // Why it says nothing does not turn on what was replaced; what exceeds is held against the limit all the same.
    let stays = recorded.outcome != Outcome::Exceeds
        && !outside
        && recorded.reason.as_ref().is_some_and(|reason| !MAY_CHANGE.contains(&reason.code));
    let new = limits.map(|(_, new, carrier)| {
        reading.limit = new.recorded(carrier.level);
        reading.derivation = new.derivation.clone();
        new
    });
    if let Some((outcome, reason)) = new.as_ref().and_then(|new| new.settled.clone()) {
        if !stays {
            (reading.outcome, reading.reason) = (outcome, Some(reason));
        }
        return Ok(corrected(reading));
    }
    decide(job, recorded, figure.bound, &mut reading);
    if stays {
        (reading.outcome, reading.reason) = (recorded.outcome, recorded.reason.clone());
    }
    Ok(corrected(reading))
}

fn corrected(mut reading: Reading) -> VerdictReading {
    reading.remarks.push(
        "judged again by its recorded figure, moved by what the loss of the path changes: not from the raw sweeps"
            .to_owned(),
    );
    VerdictReading { reading, from: JudgedFrom::Corrected }
}

/// A reading of which the record does not say what it would be now. Its figure stays that of the run.
fn unsaid(recorded: &Reading, why: &str) -> VerdictReading {
    let text = format!("{why}: measure it again");
    let reason = Some(Reason::new(ReasonCode::NotLookedAt, text));
    // Margin and chance were those against another limit.
    let (margin, conformance_probability) = (None, None);
    let mut reading =
        Reading { outcome: Outcome::Undecided, reason, margin, conformance_probability, ..recorded.clone() };
    reading.remarks.push("judged again: figure and uncertainty are those of the run".to_owned());
    VerdictReading { reading, from: JudgedFrom::Corrected }
}

/// Whether a limit of a quantity is that of the plan's rule.
fn follows_the_rule(reading: &Reading) -> bool {
    matches!(reading.quantity, Quantity::Harmonic | Quantity::Spurious | Quantity::Search)
}

fn same_rule(job: &Job, was: &Job) -> bool {
    job.rule == was.rule && job.facts == was.facts
}

/// The carrier that a recorded limit followed: the limit says how far below it lies.
fn carrier_of(recorded: &Reading) -> Option<MeasuredCarrier> {
    let Some(Limit::Upper { level, below_carrier: Some(below) }) = recorded.limit else { return None };
    Some(MeasuredCarrier {
        nominal: recorded.scope.carrier,
        level: level + below,
        standard: Db::default(),
        budget: Budget::default(),
        at_analyser: None,
        occupied: Hertz::new(0.0),
    })
}

/// The same by the present path.
fn carrier_now(job: &Job, was: &Job, recorded: &Reading) -> Option<MeasuredCarrier> {
    let old = carrier_of(recorded)?;
    let by = |job: &Job| {
        let path = job.bench.meter.as_ref().map_or(&job.carrier_way().branch.path, |meter| &meter.path);
        path.loss_at(old.nominal).map(|loss| loss.total)
    };
    let (now, then) = (by(job).ok()?, by(was).ok()?);
    Some(MeasuredCarrier { level: old.level + (now - then), ..old })
}

/// The path that a reading came by.
fn path_of<'j>(job: &'j Job, reading: &Reading) -> Option<&'j Path> {
    if !reading.meter.is_empty() {
        return job.bench.meter.as_ref().map(|meter| &meter.path);
    }
    way_of(job, reading).map(|way| &way.branch.path)
}

fn way_of<'j>(job: &'j Job, reading: &Reading) -> Option<&'j Way> {
    job.bench.ways.iter().find(|way| way.name == reading.scope.path)
}

/// Moves figure, correction and uncertainty of a reading to the present path, and tells by how much; in words, what the
/// record does not say of that.
fn move_figure(
    job: &Job,
    was: &Job,
    reading: &mut Reading,
    follows: bool,
) -> Result<Result<Db, String>, PathError> {
    let (Some(new), Some(old)) = (path_of(job, reading), path_of(was, reading)) else {
        return Ok(Err("the path that it was read by is not that of this bench".to_owned()));
    };
    if reading.level().is_none() {
        return Ok(Ok(Db::default()));
    }
    if new == old {
        return Ok(exchange_budget(job, was, reading, follows)?.map(|()| Db::default()));
    }
    let (now, then) = (new.loss_at(reading.frequency)?, old.loss_at(reading.frequency)?);
    let fits = reading.correction.as_ref().is_none_or(|correction| {
        // A reading may be named by another frequency than the one that its loss was taken at.
        (correction.path_loss - then.total).abs().get() < SAME_LOSS
    });
    if !fits {
        return Ok(Err(format!(
            "its loss was not taken at {}, where it is named, and the record does not say what the path changes there",
            reading.frequency
        )));
    }
    let by = now.total - then.total;
    if let Some(correction) = &mut reading.correction {
        correction.path = now.parts.into_iter().map(|part| (part.name, part.loss)).collect();
        correction.path_loss = now.total;
    }
    if let Some(figure) = &mut reading.figure {
        figure.level = figure.level.map(|level| level + by);
        figure.value = match (figure.unit, figure.level) {
            (Unit::W, Some(level)) => level.to_watts().get(),
            (_, Some(level)) => level.get(),
            (_, None) => figure.value,
        };
    }
    let proof = &mut reading.proof;
    for level in [
        &mut proof.lowest,
        &mut proof.highest,
        &mut proof.own_distortion,
        &mut proof.unkeyed,
        &mut proof.noise_counted,
    ] {
        *level = level.map(|level| level + by);
    }
    if let Some(floor) = &mut proof.floor {
        floor.level = floor.level + by;
    }
    Ok(exchange_budget(job, was, reading, follows)?.map(|()| by))
}

/// Losses of one table that are nearer to each other than this are one loss.
const SAME_LOSS: f64 = 1e-6;

/// Puts the lines of the present path and instruments into the uncertainty in place of those of before; in words, why that
/// cannot be done. `follows` is whether the limit followed the carrier, which brings the carrier's lines with it.
fn exchange_budget(
    job: &Job,
    was: &Job,
    reading: &mut Reading,
    follows: bool,
) -> Result<Result<(), String>, PathError> {
    let Some(budget) = &reading.budget else { return Ok(Ok(())) };
    let by_meter = !reading.meter.is_empty();
    let mut asked = vec![(reading.frequency, by_meter, off_carrier(was, reading)?)];
    if follows {
        asked.push((reading.scope.carrier, was.bench.meter.is_some(), false));
    }
    let mut exchanges = Vec::new();
    for (at, by_meter, off_carrier) in asked {
        let of = |job: &Job| budget_of(job, reading, at, by_meter, off_carrier);
        let (Some(then), Some(now)) = (of(was)?, of(job)?) else {
            let what = if by_meter { "a power meter" } else { "the path that it was read by" };
            return Ok(Err(format!("its uncertainty rests on {what}, and this bench has none")));
        };
        exchanges.push(Exchange { then, now });
    }
    Ok(exchanged(budget, &exchanges).map(|budget| reading.budget = Some(budget)))
}

/// Whether the unit was taken to reflect as it does off its carrier: where it is to be silent that is so at the very
/// frequency that it was told, unless a carrier came. Of two ways the one counts that the recorded uncertainty holds.
fn off_carrier(was: &Job, reading: &Reading) -> Result<bool, PathError> {
    let likely = reading.frequency != reading.scope.carrier;
    let (Some(budget), true) = (&reading.budget, reading.meter.is_empty()) else { return Ok(false) };
    for way in [likely, !likely] {
        let then = budget_of(was, reading, reading.frequency, false, way)?;
        if then.is_some_and(|then| holds(budget, &then)) {
            return Ok(way);
        }
    }
    Ok(likely)
}

/// What a job knows beforehand to be uncertain at a frequency; `None` if it has no such instrument or path.
fn budget_of(
    job: &Job,
    reading: &Reading,
    at: Hertz,
    by_meter: bool,
    off_carrier: bool,
) -> Result<Option<Budget>, PathError> {
    if by_meter {
        let (Some(branch), Some(profile)) = (&job.bench.meter, job.bench.meter_profile()) else {
            return Ok(None);
        };
        let shown = reading.correction.as_ref().map_or(Dbm::new(0.0), |correction| correction.raw);
        let file = job.instrument(Role::PowerMeter).profile.source.name();
        return meter_budget(profile, file, &branch.path, &job.plan.unit, at, shown).map(Some);
    }
    let Some(way) = way_of(job, reading) else { return Ok(None) };
    let file = job.instrument(Role::Analyser).profile.source.name();
    analyser_budget(job.bench.analyser_profile(), file, &way.branch.path, &job.plan.unit, at, off_carrier)
        .map(Some)
}

/// Holds the moved figure against the limit.
fn decide(job: &Job, recorded: &Reading, bound: bool, reading: &mut Reading) {
    let Some(level) = reading.level() else { return };
    let Some(expanded) = reading.budget.as_ref().and_then(spurline_record::Budget::expanded_db) else {
        return;
    };
    let Some(spread) = reading.budget.as_ref().map(conversion::spread) else { return };
    let rule = conversion::rule(&job.plan);
    let (lowest, highest) = (reading.proof.lowest.unwrap_or(level), reading.proof.highest.unwrap_or(level));
    let upper = |limit: Dbm| -> Decision {
        if !bound {
            return judge_upper(level, limit, &spread, rule);
        }
        let by_most = judge_bound(highest, limit, &spread, rule);
        let by_least = reading.proof.lowest.map(|_| judge_upper(lowest, limit, &spread, rule).verdict);
        if by_least == Some(Verdict::Exceeds) {
            Decision { verdict: Verdict::Exceeds, ..by_most }
        } else {
            by_most
        }
    };
    let decision = match &reading.limit {
        Some(Limit::Upper { level: limit, .. }) => Some(upper(*limit)),
        Some(Limit::Several(limits)) => agree(limits.iter().map(|limit| upper(*limit))),
        Some(Limit::Window { low, high }) => {
            let window = Range::new(Watts::new(*low).to_dbm(), Watts::new(*high).to_dbm());
            window.map(|window| judge_window(level, window, &spread, rule))
        }
        Some(Limit::Between { .. }) | None => None,
    };
    let Some(decision) = decision else { return };
    reading.margin = Some(decision.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = match decision.verdict {
        _ if decision.too_uncertain => {
            (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, expanded)))
        }
        Verdict::Complies => (Outcome::Complies, None),
        // As what it was outside its window: the plan says which.
        Verdict::Exceeds
            if recorded.outcome == Outcome::Exceeds || recorded.has_reason(ReasonCode::OutsideWindow) =>
        {
            (recorded.outcome, recorded.reason.clone())
        }
        Verdict::Exceeds => {
            let text = format!(
                "{level} would be above the limit, but the run did not look at it as at what exceeds: measure it again"
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)))
        }
        Verdict::Undecided if bound => {
            let text =
                format!("it may be anything up to {level}: too much to say that it is below the limit");
            (Outcome::Undecided, Some(Reason::new(ReasonCode::FloorTooHigh, text)))
        }
        Verdict::Undecided => {
            let text = format!("{level} is within {expanded} of the limit");
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    };
}

/// Whether two answers of rules come to the same.
fn are_same(one: &Possible, other: &Possible) -> bool {
    let near = |(one, other): (&Dbm, &Dbm)| (*one - *other).abs().get() < SAME_LOSS;
    one.settled == other.settled
        && one.levels.len() == other.levels.len()
        && one.levels.iter().zip(&other.levels).all(near)
}

/// Whether a rule that was replaced asks for a nearer limit than the one before, at any of these places.
pub(super) fn comes_nearer(old: &Possible, new: &Possible) -> bool {
    let least = |possible: &Possible| possible.levels.iter().copied().reduce(Dbm::min);
    match (least(old), least(new)) {
        (Some(old), Some(new)) => new < old,
        (None, Some(_)) => true,
        (_, None) => false,
    }
}
