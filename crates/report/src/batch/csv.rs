//! A batch as a table: one row for each unit's figure of each reading.

use csv::{Terminator, WriterBuilder};

use super::Batch;
use crate::csv::number;
use crate::text::inert;
use crate::view::ReportError;

const COLUMNS: [&str; 19] = [
    "reading",
    "state",
    "frequency_hz",
    "serial",
    "run",
    "number",
    "value",
    "unit",
    "bound",
    "margin",
    "unit_of_differences",
    "outcome",
    "odd",
    "median",
    "deviation",
    "firmware",
    "limit",
    "rule",
    "reason",
];

/// The batch as comma-separated values after RFC 4180: a row of names, then one row for each unit's figure of each
/// reading. Texts and figures are written as [`csv`](crate::csv()) writes them.
///
/// # Errors
///
/// [`ReportError::Csv`].
pub fn batch_csv(batch: &Batch) -> Result<String, ReportError> {
    let mut bytes = Vec::new();
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(&mut bytes);
    writer.write_record(COLUMNS)?;
    for row in &batch.readings {
        for dot in &row.units {
            writer.write_record([
                inert(&row.title),
                inert(&row.place),
                number(Some(row.frequency_hz)),
                inert(&dot.serial),
                inert(&dot.run),
                dot.reading.to_string(),
                number(dot.value),
                row.unit.to_owned(),
                dot.bound.to_string(),
                number(dot.margin),
                row.unit_of_differences.to_owned(),
                dot.outcome.word().to_owned(),
                dot.odd.to_string(),
                number(row.median),
                number(row.deviation),
                inert(&dot.firmware),
                inert(&dot.limit),
                inert(&dot.rule),
                dot.reason.as_deref().map(inert).unwrap_or_default(),
            ])?;
        }
    }
    writer.flush().map_err(csv::Error::from)?;
    drop(writer);
    Ok(String::from_utf8(bytes).expect("rows of text are text"))
}
