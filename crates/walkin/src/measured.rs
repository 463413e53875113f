//! What a run comes to for the one whose radio it was: the run's own outcome, and nothing that its record does not say.

use spurline_record::{
    DayLine, Limit, Outcome, Quantity, Reading, RunId, RunState, Unit, VisitOutcome, VisitResult,
};
use spurline_runner::SOFTWARE;
use spurline_sequencer::Kept;
use spurline_store::StoredRun;
use spurline_units::Db;

/// The result of a run as it is kept; one that did not go to its end was stopped or failed.
pub(crate) fn result(stored: &StoredRun, run: &RunId, seconds: f64) -> VisitResult {
    let of_all = Outcome::of_run(stored.readings.iter().map(|reading| reading.outcome));
    let outcome = match (stored.state, of_all) {
        (RunState::Finished, Some(outcome)) => of_run(outcome, &stored.readings),
        (RunState::Finished, None) => VisitOutcome::Invalid,
        (RunState::Failed, _) => VisitOutcome::Failed,
        (RunState::Interrupted | RunState::Running | RunState::BrokenOff, _) => VisitOutcome::Stopped,
    };
    let worst = of_all.and_then(|outcome| stored.readings.iter().find(|reading| reading.outcome == outcome));
    let why = worst.and_then(|reading| {
        let reason = reading.reason.as_ref()?;
        Some(format!("{}: {}", reading.running_title(), reason.text))
    });
    let without = stored.readings.iter().filter(|reading| reading.outcome == Outcome::NoLimit).count();
    let why = why.or_else(|| {
        (without > 0)
            .then(|| format!("the rule has no limit for {}", spurline_report::counted(without, "line")))
    });
    VisitResult {
        outcome,
        run: Some(run.clone()),
        carrier: stored.readings.first().map(|reading| reading.scope.carrier),
        lines: stored.readings.iter().filter_map(line).collect(),
        why: why.filter(|_| outcome != VisitOutcome::Complies),
        seconds,
        reference_overdue: false,
        reference_drifted: false,
        keyed: 0.0,
        ended: None,
    }
}

/// For how long the radio of a run was keyed, in seconds; for the whole lease where nothing says when the key came up.
pub(crate) fn keyed(stored: &StoredRun) -> f64 {
    let kept = Kept::of(&stored.events, &[], stored.state, SOFTWARE);
    kept.keyed.iter().map(|span| span.to.duration_since(span.from).as_secs_f64().max(0.0)).sum()
}

/// A run whose readings comply where there is a limit, and that has readings without one, has not shown all.
fn of_run(outcome: Outcome, readings: &[Reading]) -> VisitOutcome {
    let without = readings.iter().any(|reading| reading.outcome == Outcome::NoLimit);
    if outcome == Outcome::Complies && without { VisitOutcome::Undecided } else { outcome.into() }
}

fn line(reading: &Reading) -> Option<DayLine> {
    let order = match (reading.quantity, reading.order) {
        (Quantity::CarrierPower, _) => 1,
        (Quantity::Harmonic, Some(order)) => order,
        _ => return None,
    };
    let limit = match &reading.limit {
        Some(Limit::Upper { level, .. }) => Some(*level),
        _ => None,
    };
    let budget = reading.budget.as_ref().filter(|budget| budget.unit == Unit::Db);
    Some(DayLine {
        order,
        frequency: reading.frequency,
        level: reading.level(),
        bound: reading.figure.is_some_and(|figure| figure.bound),
        limit,
        // What a carrier lies within is the power that the day takes: no margin to be proud of.
        margin: reading.margin.and_then(|margin| margin.db()).filter(|_| order > 1),
        uncertainty: budget.map(|budget| Db::new(budget.expanded)),
        outcome: reading.outcome,
    })
}
