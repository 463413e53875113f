//! Limits as levels, for drawing them and for arithmetic.

use spurline_record::{Limit, Unit};
use spurline_units::Watts;

/// Every level of a limit in dBm: both ends of a window, each of several limits. An end that is no power has none.
pub(crate) fn levels(limit: Option<&Limit>) -> Vec<f64> {
    match limit {
        None => Vec::new(),
        Some(Limit::Upper { level, .. }) => vec![level.get()],
        Some(Limit::Between { low, high, unit: Unit::Dbm }) => [*low, *high].into_iter().flatten().collect(),
        Some(Limit::Between { .. }) => Vec::new(),
        Some(Limit::Several(levels)) => levels.iter().map(|level| level.get()).collect(),
        Some(Limit::Window { low, high }) => [*low, *high].into_iter().filter_map(dbm).collect(),
    }
}

/// A power in watts as a level in dBm; `None` for what has no level.
pub(crate) fn dbm(watts: f64) -> Option<f64> {
    (watts.is_finite() && watts > 0.0).then(|| Watts::new(watts).to_dbm().get())
}
