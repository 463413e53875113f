//! The columns that say what a reading is and came to: the same for a reading as it was recorded and as it was judged
//! again.

use rusqlite::types::Value;
use spurline_record::{Limit, Margin, Reading, Unit};
use spurline_units::{Db, Dbm};

use crate::column::json;

/// The names of these columns, in the order in which [`values`] has them.
pub(crate) const NAMES: [&str; 17] = [
    "quantity",
    "channel",
    "power_setting",
    "supply",
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
];

/// What they hold of a reading.
pub(crate) fn values(reading: &Reading) -> [Value; NAMES.len()] {
    let (limit, low, high) = match reading.limit {
        Some(Limit::Upper { level, .. }) => (Some(level.get()), None, None),
        Some(Limit::Between { low, high, .. }) => (None, low, high),
        Some(Limit::Window { low, high }) => (None, Some(low), Some(high)),
        Some(Limit::Several(_)) | None => (None, None, None),
    };
    let text = |text: &str| Value::Text(text.to_owned());
    [
        text(reading.quantity.name()),
        text(&reading.scope.channel),
        text(&reading.scope.power_setting),
        reading.scope.supply.clone().into(),
        reading.frequency.get().into(),
        reading.figure.map(|figure| figure.value).into(),
        reading.figure.map(|figure| figure.unit.symbol().to_owned()).into(),
        reading.figure.and_then(|figure| figure.level).map(Dbm::get).into(),
        reading.figure.map(|figure| figure.bound).into(),
        limit.into(),
        low.into(),
        high.into(),
        reading.margin.and_then(Margin::db).map(Db::get).into(),
        reading.budget.as_ref().and_then(|budget| budget.expanded_in(Unit::Db)).into(),
        text(reading.outcome.word()),
        reading.reason.as_ref().map(|reason| reason.code.code().to_owned()).into(),
        reading.reason.as_ref().map(|reason| reason.text.clone()).into(),
    ]
}

/// A statement that puts a row with these columns, and others before them, into a table.
pub(crate) fn insertion(table: &str, others: &[&str]) -> String {
    let columns: Vec<&str> = others.iter().copied().chain(NAMES).collect();
    let places = vec!["?"; columns.len()].join(", ");
    format!("INSERT INTO {table} ({}) VALUES ({places})", columns.join(", "))
}

/// A reading as JSON, without its levels.
pub(crate) fn detail(reading: &Reading) -> rusqlite::Result<String> {
    let mut bare = reading.clone();
    for look in &mut bare.acquisitions {
        look.sweeps.clear();
    }
    json(&bare)
}
