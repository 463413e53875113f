//! A comparison as one JSON document; `docs/src/compare.md` says what each key is.

use serde_json::{Value, json};

use super::change::{Basis, Change, Said, Side};
use super::comparison::Comparison;
use super::pair::Single;
use crate::view::{ReportError, RunView};

/// The comparison as one JSON document.
///
/// # Errors
///
/// [`ReportError::Json`].
pub fn comparison_json(comparison: &Comparison<'_>) -> Result<String, ReportError> {
    let terms = &comparison.terms;
    let changes = comparison.changes.iter().enumerate().map(|(place, change)| {
        let mut value = of_change(change);
        value["worse"] = comparison.worse.contains(&place).into();
        value
    });
    let document = json!({
        "verdict": comparison.verdict.word(),
        "before": comparison.before.iter().map(of_run).collect::<Vec<_>>(),
        "after": of_run(&comparison.after),
        "risk": terms.risk,
        "power": terms.power,
        "worse_from_db": terms.worse.map(spurline_units::Db::get),
        "asked": comparison.asked,
        "changes": changes.collect::<Vec<_>>(),
        "gone": comparison.gone.iter().map(of_single).collect::<Vec<_>>(),
        "new": comparison.new.iter().map(of_single).collect::<Vec<_>>(),
        "open": comparison.open,
        "repeats": comparison.repeats,
        "notes": comparison.notes,
    });
    Ok(format!("{}\n", serde_json::to_string_pretty(&document)?))
}

fn of_run(run: &RunView<'_>) -> Value {
    let header = run.header;
    json!({
        "run": header.id.to_string(),
        "started": header.started.to_string(),
        "plan": header.plan,
        "bench": header.bench,
        "rule": header.rule,
        "model": header.unit.model,
        "serial": header.unit.serial,
        "firmware": header.unit.firmware,
        "state": run.state.word(),
        "outcome": run.settled().map(spurline_record::Outcome::word),
        "simulated_seed": header.simulated,
    })
}

fn of_side(side: &Side) -> Value {
    json!({
        "reading": side.ordinal,
        "value": finite(side.value),
        "bound": side.bound,
        "figure": side.figure,
        "limit": side.limit,
        "margin": finite(side.margin),
        "outcome": side.outcome.word(),
    })
}

fn of_change(change: &Change) -> Value {
    let (kind, low, high, detectable) = match &change.said {
        Said::Shift { interval: [low, high], detectable, .. } => {
            ("shift", Some(*low), Some(*high), Some(*detectable))
        }
        Said::Rise { least, .. } => ("rise", Some(*least), None, None),
        Said::Fall { least, .. } => ("fall", None, Some(*least), None),
        Said::Nothing(_) => ("nothing", None, None, None),
    };
    let (basis, parts, en) = match &change.basis {
        Basis::Repeats(parts) => ("repeats", parts.as_slice(), None),
        Basis::Everything(_, en) => ("everything", &[][..], *en),
    };
    let parts = parts.iter().map(|(name, standard, freedom)| {
        json!({ "name": name, "standard": standard, "freedom": finite(Some(*freedom)) })
    });
    let shift = change.shift();
    json!({
        "title": change.title,
        "place": change.place,
        "path": change.path,
        "frequency_hz": change.frequency.get(),
        "unit": change.unit.symbol(),
        "before": of_side(&change.before),
        "after": of_side(&change.after),
        "kind": kind,
        "statement": change.statement(),
        "real": change.is_real(),
        "shift": shift.map(|shift| shift.shift),
        "standard": shift.map(|shift| shift.standard),
        "freedom": finite(shift.map(|shift| shift.freedom)),
        "chance": shift.map(|shift| shift.p()),
        "low": finite(low),
        "high": finite(high),
        "detectable": finite(detectable),
        "towards_limit": finite(change.towards_limit()),
        "basis": change.is_compared().then_some(basis),
        "basis_words": change.basis_words(),
        "parts": parts.collect::<Vec<_>>(),
        "en": finite(en),
        "near_noise_db": finite(change.near_noise),
        "remarks": change.remarks,
    })
}

fn of_single(single: &Single) -> Value {
    json!({
        "reading": single.ordinal,
        "title": single.title,
        "place": single.place,
        "frequency_hz": single.frequency.get(),
        "figure": single.figure,
        "outcome": single.outcome.word(),
        "remark": single.remark,
    })
}

/// What has no end has no figure.
fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}
