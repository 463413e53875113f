//! What cannot be worked out from raw looks: the recorded figure is moved by what the loss of the path changes, its
//! uncertainty gets the lines of the new path, and it is held against the new limit by the same decision.
//!
//! A figure is never made better than it was: where the method was at fault it stays so, and what would exceed only now
//! was never looked at as what exceeds is.

use spurline_judge::{Budget, Decision, Spread, Verdict, agree, judge_bound, judge_upper, judge_window};
use spurline_path::{Path, PathError};
use spurline_plan::{Job, analyser_budget, meter_budget};
use spurline_record::{
    BudgetLine, JudgedFrom, Limit, Outcome, Quantity, Reading, Reason, ReasonCode, Role, Unit, VerdictReading,
};
use spurline_units::{Db, Dbm, Hertz, Range, Watts};

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
    let Some(figure) = recorded.figure.filter(|_| recorded.outcome != Outcome::Invalid) else {
        return Ok(as_recorded(recorded));
    };
    let mut reading = recorded.clone();
    let Some(by) = move_figure(job, was, &mut reading)? else {
        let text = "the path that it was read by is not that of this bench, and what the record holds does not say what that \
                    changes";
        return Ok(undecided(reading, ReasonCode::NotLookedAt, text));
    };
    let limits = if follows_the_rule(recorded) {
        let (old, new) = (carrier_of(recorded), carrier.cloned().or_else(|| carrier_now(job, was, recorded)));
        let at = |job: &Job, carrier: &MeasuredCarrier| possible::limits(job, carrier, recorded.frequency);
        match (old.as_ref().or(new.as_ref()), &new) {
            (Some(old), Some(new)) => Some((at(was, old), at(job, new), new.level)),
            _ if !same_rule(job, was) => {
                let text = "the carrier that its limit would follow is not known from the record";
                return Ok(undecided(reading, ReasonCode::NotLookedAt, text));
            }
            _ => None,
        }
    } else {
        None
    };
    let same_limits = limits.as_ref().is_none_or(|(_, new, level)| new.recorded(*level) == recorded.limit);
    let same_budget = reading.budget == recorded.budget;
    if by.get() == 0.0
        && same_budget
        && same_limits
        && conversion::rule(&job.plan) == conversion::rule(&was.plan)
    {
        return Ok(as_recorded(recorded));
    }
    if recorded.reason.as_ref().is_some_and(|reason| !MAY_CHANGE.contains(&reason.code)) {
        // Why it says nothing does not turn on what was replaced.
        return Ok(corrected(reading));
    }
    let new = limits.map(|(_, new, level)| {
        reading.limit = new.recorded(level);
        reading.derivation = new.derivation.clone();
        new
    });
    if let Some((outcome, reason)) = new.as_ref().and_then(|new| new.settled.clone()) {
        (reading.outcome, reading.reason) = (outcome, Some(reason));
        return Ok(corrected(reading));
    }
    decide(job, recorded, figure.bound, &mut reading);
    Ok(corrected(reading))
}

fn corrected(mut reading: Reading) -> VerdictReading {
    reading.remarks.push(
        "judged again by its recorded figure, moved by what the loss of the path changes: not from the raw sweeps"
            .to_owned(),
    );
    VerdictReading { reading, from: JudgedFrom::Corrected }
}

fn undecided(mut reading: Reading, code: ReasonCode, text: &str) -> VerdictReading {
    (reading.outcome, reading.reason) = (Outcome::Undecided, Some(Reason::new(code, text)));
    corrected(reading)
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

/// The path that a reading came by, and whether it ends at the power meter.
fn path_of<'j>(job: &'j Job, reading: &Reading) -> Option<(&'j Path, bool)> {
    if !reading.meter.is_empty() {
        return job.bench.meter.as_ref().map(|meter| (&meter.path, true));
    }
    let way = job.bench.ways.iter().find(|way| way.name == reading.scope.path)?;
    Some((&way.branch.path, false))
}

/// Moves figure, correction and uncertainty of a reading to the present path, and tells by how much; `None` if the record
/// does not say what that changes.
fn move_figure(job: &Job, was: &Job, reading: &mut Reading) -> Result<Option<Db>, PathError> {
    let Some((new, by_meter)) = path_of(job, reading) else { return Ok(None) };
    let Some((old, _)) = path_of(was, reading) else { return Ok(None) };
    if reading.level().is_none() || new == old {
        return Ok(Some(Db::default()));
    }
    let (now, then) = (new.loss_at(reading.frequency)?, old.loss_at(reading.frequency)?);
    let fits = reading.correction.as_ref().is_none_or(|correction| {
        // A reading may be named by another frequency than the one that its loss was taken at.
        (correction.path_loss - then.total).abs().get() < SAME_LOSS
    });
    if !fits {
        return Ok(None);
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
    for level in [&mut proof.lowest, &mut proof.highest, &mut proof.own_distortion, &mut proof.unkeyed] {
        *level = level.map(|level| level + by);
    }
    if let Some(floor) = &mut proof.floor {
        floor.level = floor.level + by;
    }
    exchange_budget(job, was, reading, by_meter)?;
    Ok(Some(by))
}

/// Losses of one table that are nearer to each other than this are one loss.
const SAME_LOSS: f64 = 1e-6;

/// Puts the lines of the present path into the uncertainty in place of those of the path before.
fn exchange_budget(job: &Job, was: &Job, reading: &mut Reading, by_meter: bool) -> Result<(), PathError> {
    let off_carrier = reading.frequency != reading.scope.carrier;
    let shown = reading.correction.as_ref().map_or(Dbm::new(0.0), |correction| correction.raw);
    let of = |job: &Job, at: Hertz, by_meter: bool, off: bool| -> Result<Option<Budget>, PathError> {
        if by_meter {
            let (Some(branch), Some(profile)) = (&job.bench.meter, job.bench.meter_profile()) else {
                return Ok(None);
            };
            let file = job.instrument(Role::PowerMeter).profile.source.name();
            return meter_budget(profile, file, &branch.path, &job.plan.unit, at, shown).map(Some);
        }
        let Some((path, _)) = path_of(job, &Reading { meter: Vec::new(), ..bare(reading) }) else {
            return Ok(None);
        };
        let file = job.instrument(Role::Analyser).profile.source.name();
        analyser_budget(job.bench.analyser_profile(), file, path, &job.plan.unit, at, off).map(Some)
    };
    let mut exchanges = vec![(reading.frequency, by_meter, off_carrier && !by_meter)];
    if off_carrier {
        // A limit that follows the carrier brings the lines of the carrier with it.
        exchanges.push((reading.scope.carrier, job.bench.meter.is_some(), false));
    }
    let mut pairs = Vec::new();
    for (at, by_meter, off) in exchanges {
        pairs.extend(of(was, at, by_meter, off)?.zip(of(job, at, by_meter, off)?));
    }
    let Some(budget) = &mut reading.budget else { return Ok(()) };
    for (old, new) in pairs {
        let (old, new) = (conversion::budget(&old).lines, conversion::budget(&new).lines);
        let gone: Vec<&BudgetLine> = old.iter().filter(|line| !new.contains(line)).collect();
        let places: Option<Vec<usize>> =
            gone.iter().map(|line| budget.lines.iter().position(|own| is_line(own, line))).collect();
        let Some(mut places) = places.filter(|places| !places.is_empty()) else { continue };
        places.sort_unstable();
        places.dedup();
        for place in places.into_iter().rev() {
            budget.lines.remove(place);
        }
        budget.lines.extend(new.iter().filter(|line| !old.contains(line)).cloned());
    }
    let squares: f64 = budget.lines.iter().map(|line| line.standard.powi(2)).sum();
    budget.combined = squares.sqrt();
    budget.expanded = budget.combined * budget.coverage_factor;
    Ok(())
}

fn is_line(one: &BudgetLine, other: &BudgetLine) -> bool {
    one.name == other.name && one.source == other.source && (one.value - other.value).abs() < SAME_LOSS
}

fn bare(reading: &Reading) -> Reading {
    Reading { acquisitions: Vec::new(), ..reading.clone() }
}

/// Holds the moved figure against the limit.
fn decide(job: &Job, recorded: &Reading, bound: bool, reading: &mut Reading) {
    let Some(level) = reading.level() else { return };
    let Some(expanded) = reading.budget.as_ref().and_then(spurline_record::Budget::expanded_db) else {
        return;
    };
    let (spread, rule) = (Spread::normal(expanded), conversion::rule(&job.plan));
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
        Verdict::Exceeds if recorded.outcome == Outcome::Exceeds => {
            (Outcome::Exceeds, recorded.reason.clone())
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

/// Whether a rule that was replaced asks for a nearer limit than the one before, at any of these places.
pub(super) fn comes_nearer(old: &Possible, new: &Possible) -> bool {
    let least = |possible: &Possible| possible.levels.iter().copied().reduce(Dbm::min);
    match (least(old), least(new)) {
        (Some(old), Some(new)) => new < old,
        (None, Some(_)) => true,
        (_, None) => false,
    }
}
