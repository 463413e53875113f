//! One reading in JSON: the row that a run's document has of it, and everything behind it.

use serde_json::{Value, json};
use spurline_record::{Acquisition, Budget, Correction, Limit, Proof, Reading, Unit};

use crate::view::ReportError;

/// One reading as one JSON object with everything behind it, with a new line at its end.
///
/// Beside the keys that a reading has in the document of its run:
///
/// | key | holds |
/// |---|---|
/// | `at` | when it was finished |
/// | `derivation` | `source` and `steps` of the limit |
/// | `correction` | `raw_dbm`, what `noise_db` took off, `path` (list of `name`, `loss_db`), `path_loss_db` |
/// | `proof` | floor, mixer level, own product, repeats, marker, unkeyed look, cross-check, variation |
/// | `budget` | `lines` (`name`, `stated_db`, `distribution`, `standard_db`, `source`), `combined_db`, `coverage_factor`, `method`, `effective_freedom`, `expanded_db` |
/// | `conformance_probability` | the chance that the limit is kept |
/// | `looks` | list of `purpose`, `at`, `keyed`, `settings`, `overload`, `uncalibrated`, `marker`, `sweeps_dbm` (at the analyser's input) |
/// | `meter` | list of `at`, `frequency_hz`, `level_dbm` (at the sensor) |
///
/// # Errors
///
/// [`ReportError::Json`].
pub fn json(reading: &Reading) -> Result<String, ReportError> {
    let mut document = row(reading);
    let behind = json!({
        "at": reading.at,
        "derivation": { "source": reading.derivation.source, "steps": reading.derivation.steps },
        "correction": reading.correction.as_ref().map(correction),
        "proof": proof(&reading.proof),
        "budget": reading.budget.as_ref().map(budget),
        "conformance_probability": reading.conformance_probability,
        "looks": reading.acquisitions.iter().map(look).collect::<Vec<_>>(),
        "meter": reading.meter.iter().map(|shown| json!({
            "at": shown.at, "frequency_hz": shown.frequency, "level_dbm": shown.level,
        })).collect::<Vec<_>>(),
    });
    if let (Value::Object(document), Value::Object(behind)) = (&mut document, behind) {
        document.extend(behind);
    }
    Ok(format!("{}\n", serde_json::to_string_pretty(&document)?))
}

fn correction(correction: &Correction) -> Value {
    let path = correction.path.iter().map(|(name, loss)| json!({ "name": name, "loss_db": loss }));
    json!({
        "raw_dbm": correction.raw,
        "noise_db": correction.noise,
        "path": path.collect::<Vec<_>>(),
        "path_loss_db": correction.path_loss,
    })
}

fn proof(proof: &Proof) -> Value {
    json!({
        "floor_dbm": proof.floor.map(|floor| floor.level),
        "floor_distance_db": proof.floor.map(|floor| floor.distance),
        "floor_height_db": proof.floor.map(|floor| floor.height),
        "floor_points": proof.floor.map(|floor| floor.points),
        "mixer_level_dbm": proof.mixer_level,
        "own_product_dbm": proof.own_distortion,
        "peak_point": proof.peak_point,
        "peak_reach": proof.peak_reach,
        "spread_db": proof.spread,
        "marker_difference_db": proof.marker_difference,
        "unkeyed_dbm": proof.unkeyed,
        "carrier_variation_db": proof.carrier_variation,
        "carrier_change_db": proof.carrier_change,
        "read_from": proof.read_from,
        "lowest_dbm": proof.lowest,
        "highest_dbm": proof.highest,
        "width_hz": proof.width,
        "steps": proof.steps.iter().map(|step| json!({
            "attenuation_db": step.attenuation,
            "rbw_hz": step.rbw,
            "level_dbm": step.level,
            "bound": step.bound,
            "own_product_dbm": step.own_distortion,
        })).collect::<Vec<_>>(),
        "cross_check": proof.cross_check.map(|check| json!({
            "meter_dbm": check.meter,
            "analyser_dbm": check.analyser,
            "difference_db": check.difference,
            "allowed_db": check.allowed,
        })),
    })
}

fn budget(budget: &Budget) -> Value {
    let lines = budget.lines.iter().map(|line| {
        json!({
            "name": line.name,
            "stated_db": line.value,
            "distribution": line.distribution,
            "standard_db": line.standard,
            "source": line.source,
            "freedom": line.freedom,
        })
    });
    json!({
        "lines": lines.collect::<Vec<_>>(),
        "combined_db": budget.combined,
        "coverage_factor": budget.coverage_factor,
        "method": budget.method,
        "effective_freedom": budget.effective_freedom,
        "expanded_db": budget.expanded,
    })
}

fn look(look: &Acquisition) -> Value {
    let set = &look.settings;
    json!({
        "purpose": look.purpose,
        "at": look.at,
        "keyed": look.keyed,
        "settings": {
            "centre_hz": set.centre,
            "span_hz": set.span,
            "rbw_hz": set.rbw,
            "vbw_hz": set.vbw,
            "points": set.points,
            "sweep_time_s": set.sweep_time,
            "detector": set.detector,
            "attenuation_db": set.attenuation,
            "preamplifier": set.preamplifier,
            "reference_level_dbm": set.reference_level,
        },
        "overload": look.flags.overload,
        "uncalibrated": look.flags.uncalibrated,
        "marker": look.marker.map(|(frequency, level)| json!({ "frequency_hz": frequency, "level_dbm": level })),
        "sweeps_dbm": look.sweeps.iter().map(|sweep| &sweep.levels).collect::<Vec<_>>(),
    })
}

/// What the document of a run has of a reading.
pub(super) fn row(reading: &Reading) -> Value {
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
        "number": reading.ordinal,
        "quantity": reading.quantity.name(),
        "channel": reading.scope.channel,
        "carrier_hz": reading.scope.carrier,
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
        "remarks": reading.remarks,
    })
}
