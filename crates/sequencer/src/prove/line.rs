//! One known line: read, corrected and compared.

use spurline_judge::{COVERAGE, Contribution, Distribution, correct};
use spurline_plan::{PlannedLine, reach};
use spurline_record::{Acquisition, KnownLine, ProofOutcome};
use spurline_units::{Db, Dbm};

use crate::conversion;
use crate::line::fault;
use crate::trace::{self, FLOOR_GUARD};

/// What is there without the line must be this far below it to be no part of it: then it adds 0.09 dB at most.
const ALONE_DB: f64 = 20.0;

/// What was read at the connector.
struct Read {
    level: Dbm,
    bound: bool,
}

/// A line that was not read.
pub(super) fn unread(
    planned: &PlannedLine,
    path: String,
    outcome: ProofOutcome,
    reason: String,
) -> KnownLine {
    KnownLine {
        path,
        beside: planned.beside,
        frequency: planned.frequency,
        set: planned.set,
        expected: planned.expected,
        read: None,
        bound: false,
        difference: None,
        allowed: planned.budget.expanded(COVERAGE),
        budget: conversion::budget(&planned.budget),
        path_loss: planned.path_loss,
        settings: planned.look.settings,
        outcome,
        reason: Some(reason),
    }
}

/// Compares what was read with what was given.
pub(super) fn judge(
    planned: &PlannedLine,
    path: String,
    without: &Acquisition,
    with: &Acquisition,
) -> KnownLine {
    if let Some(reason) = fault(with).or_else(|| fault(without)) {
        return unread(planned, path, ProofOutcome::Undecided, reason.text);
    }
    let settings = &with.settings;
    let reach = reach(settings);
    let levels = trace::smoothed(&trace::mean_power(&with.sweeps), reach);
    let Some(peak) = trace::peak(&levels, settings, planned.frequency, settings.rbw) else {
        let reason = "the trace has no point near the line".to_owned();
        return unread(planned, path, ProofOutcome::Undecided, reason);
    };
    let guard = settings.rbw * FLOOR_GUARD;
    let floor = trace::floor(&levels, settings, &peak, guard, planned.path_loss);
    let distance = floor.map_or(Db::new(0.0), |floor| floor.distance);
    let clear = floor.is_some_and(|floor| trace::is_clear(&floor));
    let corrected = correct(peak.level, peak.level - distance).filter(|_| clear);
    let read = Read {
        level: corrected.map_or(peak.level, |corrected| corrected.level) + planned.path_loss,
        bound: corrected.is_none(),
    };
    let mut budget = planned.budget.clone();
    if let Some(scatter) = trace::scatter(&with.sweeps, peak.point, reach) {
        let of_mean =
            corrected.map_or(scatter.of_mean, |line| line.uncertainty(scatter.of_mean, Db::new(0.0)));
        budget.lines.push(Contribution::new(
            "repeatability of the sweeps",
            of_mean,
            Distribution::Standard,
            "scatter of this line's sweeps",
        ));
    }
    let allowed = budget.expanded(COVERAGE);
    let difference = read.level - planned.expected;
    let (outcome, reason) = match other(planned, without) {
        Some(reason) => (ProofOutcome::Undecided, Some(reason)),
        None => compare(&read, difference, allowed),
    };
    KnownLine {
        read: Some(read.level),
        bound: read.bound,
        difference: Some(difference),
        allowed,
        budget: conversion::budget(&budget),
        settings: *settings,
        reason,
        ..unread(planned, path, outcome, String::new())
    }
}

fn compare(read: &Read, difference: Db, allowed: Db) -> (ProofOutcome, Option<String>) {
    if read.bound {
        return if difference < -allowed {
            let reason = format!("no line stands out of the noise: there is at most {:.1}", read.level);
            (ProofOutcome::NotProven, Some(reason))
        } else {
            (ProofOutcome::Undecided, Some("the line does not stand clear of the noise".to_owned()))
        };
    }
    if difference.abs() <= allowed {
        return (ProofOutcome::Proven, None);
    }
    let way = if difference > Db::new(0.0) { "high" } else { "low" };
    let reason = format!("{:.2} too {way}, where {allowed:.2} is allowed", difference.abs());
    (ProofOutcome::NotProven, Some(reason))
}

/// What is there without the line, if it is too much.
fn other(planned: &PlannedLine, without: &Acquisition) -> Option<String> {
    let settings = &without.settings;
    let levels = trace::smoothed(&trace::mean_power(&without.sweeps), reach(settings));
    let peak = trace::peak(&levels, settings, planned.frequency, settings.rbw)?;
    let floor = trace::floor(&levels, settings, &peak, settings.rbw * FLOOR_GUARD, planned.path_loss);
    let is_line = floor.is_some_and(|floor| trace::is_clear(&floor));
    let level = peak.level + planned.path_loss;
    let near = (planned.expected - level).get() < ALONE_DB;
    (is_line && near).then(|| format!("{level:.1} is there without the generator"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(level: f64, bound: bool, difference: f64) -> ProofOutcome {
        compare(&Read { level: Dbm::new(level), bound }, Db::new(difference), Db::new(1.0)).0
    }

    #[test]
    fn a_line_may_differ_by_the_uncertainty_of_the_difference_and_no_more() {
        assert_eq!(outcome(-20.0, false, 1.0), ProofOutcome::Proven);
        assert_eq!(outcome(-20.0, false, -1.01), ProofOutcome::NotProven);
        assert_eq!(outcome(-20.0, false, 1.01), ProofOutcome::NotProven);
    }

    /// A bound says that there is no more: a line that should be well above it is not there.
    #[test]
    fn a_line_that_is_hidden_is_either_missing_or_not_known() {
        assert_eq!(outcome(-60.0, true, -20.0), ProofOutcome::NotProven);
        assert_eq!(outcome(-60.0, true, -0.5), ProofOutcome::Undecided);
        assert_eq!(outcome(-60.0, true, 5.0), ProofOutcome::Undecided);
    }
}
