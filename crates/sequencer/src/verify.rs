//! Whether the path is still what its tables say, before full power: at the plan's lowest power setting, which is measured
//! first, power meter and analyser must agree as they should, and as they did in an earlier run on this bench.
//!
//! Two instruments that were aligned with each other once show a change of the path between them far better than their
//! data sheets would.

use spurline_plan::{CARRIER_CHANGE_DB, Job};
use spurline_record::{NotedCarrier, Outcome, Quantity, Reading, Reason, ReasonCode};
use spurline_units::Db;

use crate::fault::RunFault;
use crate::scope::{Case, Measuring};

/// What two runs differ by with the same path: connectors, and an analyser that was aligned anew (common practice).
const FROM_RUN_TO_RUN_DB: f64 = 0.2;

impl Measuring<'_, '_> {
    /// Looks at what a scope came to if it is there to verify the path. A path that changed makes all of it invalid.
    pub(crate) fn verify(&mut self, case: &Case<'_>) -> Option<RunFault> {
        if !std::mem::take(&mut self.done.verify) {
            return None;
        }
        let found = self.done.held.iter().find_map(|reading| changed(self.job, reading, self.noted));
        let Some(what) = found else {
            self.path_is_shown(case);
            return None;
        };
        for reading in &mut self.done.held {
            if reading.outcome != Outcome::Invalid || reading.reason.is_none() {
                reading.reason = Some(Reason::new(ReasonCode::CrossCheckFailed, what.clone()));
            }
            reading.outcome = Outcome::Invalid;
        }
        let path = self.job.carrier_way().name.clone();
        Some(RunFault::PathChanged { path, power: case.power.name.clone(), what })
    }
}

/// What a reading says of a change of the path, if it does.
fn changed(job: &Job, reading: &Reading, noted: &[NotedCarrier]) -> Option<String> {
    if let Some(reason) = reading.reason.as_ref().filter(|reason| reason.code == ReasonCode::CrossCheckFailed)
    {
        return Some(reason.text.clone());
    }
    if reading.quantity != Quantity::CarrierPower || reading.outcome == Outcome::Invalid {
        return None;
    }
    let noted = noted.iter().find(|noted| noted.scope == reading.scope)?;
    let level = reading.level()?;
    let (now, then, of) = match (reading.proof.cross_check, noted.difference) {
        (Some(check), Some(then)) => (check.difference, then, "analyser less power meter"),
        // With one instrument, what changed may be the unit: only where the bench file wants it is that held against it.
        (None, None) if job.bench.verify_path == Some(true) => {
            (level - noted.level, Db::default(), "the carrier against what it was")
        }
        _ => return None,
    };
    let allowed = allowed(job, reading, noted.difference.is_some());
    let change = now - then;
    (change.abs() > allowed).then(|| {
        format!(
            "{of} is {now:.2}, and was {then:.2} in run {}: {:.2} apart, more than the {allowed:.2} that the tables of \
             the path and two connections leave room for",
            noted.run,
            change.abs()
        )
    })
}

/// The uncertainty of the tables of this path, what two runs differ by, and without a second instrument what the unit may
/// change.
pub(crate) fn allowed(job: &Job, reading: &Reading, by_two: bool) -> Db {
    let carrier = reading.scope.carrier;
    let way = job.carrier_way();
    let shared = if by_two { job.bench.common } else { 0 };
    let own = |path: &spurline_path::Path| -> f64 {
        let parts = path.parts.iter().skip(shared);
        parts.map(|part| part.uncertainty_at(carrier).get().powi(2)).sum()
    };
    let meter = job.bench.meter.as_ref().filter(|_| by_two).map_or(0.0, |meter| own(&meter.path));
    let scatter = reading.proof.spread.unwrap_or_default().get();
    let unit = if by_two { 0.0 } else { CARRIER_CHANGE_DB };
    let squares = own(&way.branch.path) + meter + scatter.powi(2) + FROM_RUN_TO_RUN_DB.powi(2) + unit.powi(2);
    Db::new(squares.sqrt())
}
