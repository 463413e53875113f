//! One reading in JSON: the row that a run's document has of it, and everything behind it.

use serde_json::{Value, json};
use spurline_record::{
    Acquisition, Budget, Correction, Limit, Margin, Proof, Quantity, Reading, Series, Unit,
};

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
/// | `budget` | `lines` (`name`, `stated_db`, `distribution`, `standard_db`, `source`), `combined_db`, `coverage_factor`, `method`, `effective_freedom`, `expanded_db`; of a budget in another unit the keys end in that |
/// | `series` | the figures of a course, or of a searched spectrum: list of `name`, `unit`, `values` |
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
        "series": reading.series.as_ref().map(series),
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
    let unit = suffix(budget.unit);
    let key = |name: &str| format!("{name}_{unit}");
    let lines = budget.lines.iter().map(|line| {
        json!({
            "name": line.name,
            key("stated"): line.value,
            "distribution": line.distribution,
            key("standard"): line.standard,
            "source": line.source,
            "freedom": line.freedom,
        })
    });
    json!({
        "lines": lines.collect::<Vec<_>>(),
        key("combined"): budget.combined,
        "coverage_factor": budget.coverage_factor,
        "method": budget.method,
        "effective_freedom": budget.effective_freedom,
        key("expanded"): budget.expanded,
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

/// How a key that holds this unit ends.
const fn suffix(unit: Unit) -> &'static str {
    match unit {
        Unit::W => "w",
        Unit::Dbm => "dbm",
        Unit::Db => "db",
        Unit::Hz => "hz",
        Unit::Percent => "percent",
        Unit::V => "v",
        Unit::A => "a",
        Unit::S => "s",
    }
}

fn series(series: &Series) -> Value {
    let columns = series
        .columns
        .iter()
        .map(|column| json!({ "name": column.name, "unit": column.unit.symbol(), "values": column.values }));
    columns.collect()
}

/// What the document of a run has of a reading.
pub(super) fn row(reading: &Reading) -> Value {
    let figure = reading.figure.as_ref();
    let limit = match &reading.limit {
        Some(Limit::Upper { level, .. }) => Some(*level),
        Some(Limit::Window { .. } | Limit::Between { .. } | Limit::Several(_)) | None => None,
    };
    let (low, high, unit) = match &reading.limit {
        Some(Limit::Window { low, high }) => (Some(*low), Some(*high), Some(Unit::W)),
        Some(Limit::Between { low, high, unit }) => (*low, *high, Some(*unit)),
        Some(Limit::Upper { .. } | Limit::Several(_)) | None => (None, None, None),
    };
    let possible = match &reading.limit {
        Some(Limit::Several(levels)) => Some(levels),
        Some(Limit::Upper { .. } | Limit::Window { .. } | Limit::Between { .. }) | None => None,
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
        "name": reading.name,
        "frequency_hz": reading.frequency,
        "value": figure.map(|figure| figure.value),
        "unit": figure.map(|figure| figure.unit.symbol()).or(unit.map(Unit::symbol)),
        "level_dbm": figure.and_then(|figure| figure.level),
        "bound": figure.is_some_and(|figure| figure.bound),
        "limit_dbm": limit,
        "limit_low": low,
        "limit_high": high,
        "possible_limits_dbm": possible,
        "margin_db": reading.margin.and_then(Margin::db),
        "margin_hz": reading.margin.and_then(Margin::hertz),
        "expanded_uncertainty_db": reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Db)),
        "expanded_uncertainty_hz": reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Hz)),
        "outcome": reading.outcome,
        "reason_code": reading.reason.as_ref().map(|reason| reason.code),
        "reason": reading.reason.as_ref().map(|reason| &reason.text),
        "remarks": reading.remarks,
        // A searched spectrum has thousands of points.
        "course": reading.series.as_ref().filter(|_| reading.quantity != Quantity::Search).map(series),
    })
}
