//! A run as one JSON document: figures unrounded, keys in snake case, null where there is nothing.

use serde_json::{Value, json};
use spurline_record::{Limit, Reading, Unit};

use crate::view::{ReportError, RunView};

/// The run as a document, with a new line at its end.
///
/// # Errors
///
/// [`ReportError::Json`].
pub fn json(run: &RunView<'_>) -> Result<String, ReportError> {
    let header = run.header;
    let document = json!({
        "run": header.id,
        "outcome": run.outcome,
        "state": run.state,
        "plan": header.plan,
        "bench": header.bench,
        "unit": header.unit,
        "rule": header.rule,
        "rule_source": header.rule_source,
        "rule_status": header.rule_status,
        "decision": header.decision,
        "started": header.started,
        "ended": run.ended,
        "software": header.software,
        "simulated_seed": header.simulated,
        "readings": run.readings.iter().map(reading).collect::<Vec<_>>(),
    });
    Ok(format!("{}\n", serde_json::to_string_pretty(&document)?))
}

fn reading(reading: &Reading) -> Value {
    let figure = reading.figure.as_ref();
    let limit = match &reading.limit {
        Some(Limit::Upper { level, .. }) => Some(*level),
        Some(Limit::Window { .. } | Limit::Several(_)) | None => None,
    };
    let window = match &reading.limit {
        Some(Limit::Window { low, high }) => Some((*low, *high)),
        Some(Limit::Upper { .. } | Limit::Several(_)) | None => None,
    };
    let possible = match &reading.limit {
        Some(Limit::Several(levels)) => Some(levels),
        Some(Limit::Upper { .. } | Limit::Window { .. }) | None => None,
    };
    json!({
        "quantity": reading.quantity.name(),
        "channel": reading.scope.channel,
        "power_setting": reading.scope.power_setting,
        "supply": reading.scope.supply,
        "path": reading.scope.path,
        "order": reading.order,
        "frequency_hz": reading.frequency,
        "value": figure.map(|figure| figure.value),
        "unit": figure.map(|figure| figure.unit.symbol()).or(window.map(|_| Unit::W.symbol())),
        "level_dbm": figure.map(|figure| figure.level),
        "bound": figure.is_some_and(|figure| figure.bound),
        "limit_dbm": limit,
        "limit_low": window.map(|window| window.0),
        "limit_high": window.map(|window| window.1),
        "possible_limits_dbm": possible,
        "margin_db": reading.margin,
        "expanded_uncertainty_db": reading.budget.as_ref().map(|budget| budget.expanded),
        "outcome": reading.outcome,
        "reason_code": reading.reason.as_ref().map(|reason| reason.code),
        "reason": reading.reason.as_ref().map(|reason| &reason.text),
    })
}
