//! The few plain floats of a reading, held to be numbers before they reach a column.
//!
//! Levels, ratios and frequencies need no look: their types hold finite values only.

use spurline_record::{Limit, Reading};

use crate::error::StoreError;

/// Names the first figure that is not a number.
pub(crate) fn check(reading: &Reading) -> Result<(), StoreError> {
    let window = match reading.limit {
        Some(Limit::Window { low, high }) => [Some(low), Some(high)],
        Some(Limit::Between { low, high, .. }) => [low, high],
        Some(Limit::Upper { .. } | Limit::Several(_)) | None => [None, None],
    };
    let figures = [
        ("value", reading.figure.map(|f| f.value)),
        ("margin", reading.margin.map(|margin| margin.value)),
        ("limit_low", window[0]),
        ("limit_high", window[1]),
        ("conformance_probability", reading.conformance_probability),
        ("coverage_factor", reading.budget.as_ref().map(|b| b.coverage_factor)),
        ("combined", reading.budget.as_ref().map(|b| b.combined)),
        ("expanded", reading.budget.as_ref().map(|b| b.expanded)),
    ];
    let lines = reading.budget.iter().flat_map(|budget| &budget.lines);
    let lines = lines.flat_map(|line| [("value", Some(line.value)), ("standard", Some(line.standard))]);
    let columns = reading.series.iter().flat_map(|series| &series.columns);
    let columns = columns.flat_map(|column| column.values.iter().map(|value| ("series", *value)));
    match figures
        .into_iter()
        .chain(lines)
        .chain(columns)
        .find(|(_, figure)| figure.is_some_and(|f| !f.is_finite()))
    {
        Some((field, _)) => Err(StoreError::NotFinite { ordinal: reading.ordinal, field }),
        None => Ok(()),
    }
}
