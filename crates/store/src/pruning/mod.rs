//! What was taken out of runs to give its room back, and that it was.

use jiff::Timestamp;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};
use spurline_record::RunId;

use crate::column::{get_stamp, get_word};

/// What can be taken out of a run. Readings, proofs, budgets, verdicts, messages of events and hashes always stay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Prunable {
    /// The levels of all sweeps.
    Sweeps,
    /// The messages of all links.
    Transcript,
}

impl Prunable {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sweeps => "sweeps",
            Self::Transcript => "transcript",
        }
    }
}

/// One time that something was taken out of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Pruning {
    /// When.
    pub at: Timestamp,
    /// What.
    pub what: Prunable,
    /// How many: sweeps, or messages.
    pub items: u64,
    /// How many bytes they had in the record.
    pub size: u64,
    /// Which program and version took it out.
    pub software: String,
}

/// What was taken out of a run, in order.
pub(crate) fn of(from: &Connection, run: &RunId) -> rusqlite::Result<Vec<Pruning>> {
    from.prepare_cached("SELECT at, what, items, size, software FROM pruning WHERE run = ?1 ORDER BY id")?
        .query_map([run.as_str()], |row| {
            Ok(Pruning {
                at: get_stamp(row, 0)?,
                what: get_word(row, 1)?,
                items: row.get::<_, i64>(2)?.unsigned_abs(),
                size: row.get::<_, i64>(3)?.unsigned_abs(),
                software: row.get(4)?,
            })
        })?
        .collect()
}
