//! A run as a table, one row for each reading, for spreadsheets and scripts.

use csv::{Terminator, WriterBuilder};
use spurline_record::{Limit, Margin, Reading, Unit};
use spurline_units::{Db, Dbm, Hertz};

use crate::text::inert;
use crate::view::{ReportError, RunView};

/// The columns: the names are those of the JSON document.
const COLUMNS: [&str; 25] = [
    "number",
    "quantity",
    "channel",
    "carrier_hz",
    "power_setting",
    "supply",
    "path",
    "order",
    "frequency_hz",
    "value",
    "unit",
    "level_dbm",
    "bound",
    "limit_dbm",
    "limit_low",
    "limit_high",
    "margin_db",
    "expanded_uncertainty_db",
    "outcome",
    "reason_code",
    "reason",
    "name",
    "margin_hz",
    "expanded_uncertainty_hz",
    "run_state",
];

/// The readings as comma-separated values after RFC 4180: a row of names, then one row for each reading, figures
/// unrounded, nothing where there is nothing.
///
/// A free text that begins as a formula does (`=`, `+`, `-`, `@`) gets an apostrophe before it, so that a
/// spreadsheet shows it and does not work it out. Limits of which several are possible are in the JSON document
/// only.
///
/// # Errors
///
/// [`ReportError::Csv`].
pub fn csv(run: &RunView<'_>) -> Result<String, ReportError> {
    let mut bytes = Vec::new();
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(&mut bytes);
    writer.write_record(COLUMNS)?;
    for reading in run.readings {
        writer.write_record(row(run, reading))?;
    }
    writer.flush().map_err(csv::Error::from)?;
    drop(writer);
    Ok(String::from_utf8(bytes).expect("rows of text are text"))
}

fn row(run: &RunView<'_>, reading: &Reading) -> [String; 25] {
    let figure = reading.figure.as_ref();
    let (limit, window) = match reading.limit {
        Some(Limit::Upper { level, .. }) => (Some(level.get()), None),
        Some(Limit::Window { low, high }) => (None, Some((Some(low), Some(high)))),
        Some(Limit::Between { low, high, .. }) => (None, Some((low, high))),
        Some(Limit::Several(_)) | None => (None, None),
    };
    let scope = &reading.scope;
    let unit = figure.map(|figure| figure.unit).or(unit_of_limit(reading));
    [
        reading.ordinal.to_string(),
        reading.quantity.name().to_owned(),
        inert(&scope.channel),
        number(Some(scope.carrier.get())),
        inert(&scope.power_setting),
        scope.supply.as_deref().map(inert).unwrap_or_default(),
        inert(&scope.path),
        reading.order.map(|order| order.to_string()).unwrap_or_default(),
        number(Some(reading.frequency.get())),
        number(figure.map(|figure| figure.value)),
        unit.map(|unit| unit.symbol().to_owned()).unwrap_or_default(),
        number(figure.and_then(|figure| figure.level).map(Dbm::get)),
        figure.is_some_and(|figure| figure.bound).to_string(),
        number(limit),
        number(window.and_then(|(low, _)| low)),
        number(window.and_then(|(_, high)| high)),
        number(reading.margin.and_then(Margin::db).map(Db::get)),
        number(reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Db))),
        reading.outcome.word().to_owned(),
        reading.reason.as_ref().map(|reason| reason.code.code().to_owned()).unwrap_or_default(),
        reading.reason.as_ref().map(|reason| inert(&reason.text)).unwrap_or_default(),
        reading.name.as_deref().map(inert).unwrap_or_default(),
        number(reading.margin.and_then(Margin::hertz).map(Hertz::get)),
        number(reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Hz))),
        run.state.word().to_owned(),
    ]
}

/// The unit of a limit with two ends.
fn unit_of_limit(reading: &Reading) -> Option<Unit> {
    match reading.limit {
        Some(Limit::Window { .. }) => Some(Unit::W),
        Some(Limit::Between { unit, .. }) => Some(unit),
        Some(Limit::Upper { .. } | Limit::Several(_)) | None => None,
    }
}

/// A number with all its digits; nothing for one that is none.
pub(crate) fn number(value: Option<f64>) -> String {
    value.filter(|value| value.is_finite()).map(|value| value.to_string()).unwrap_or_default()
}
