//! The table of the benches that are paused: a pause outlives the program.

use jiff::Timestamp;
use rusqlite::{Connection, params};

use super::rows::parsed;
use crate::bench::Cause;

/// A bench that takes no further work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Pause {
    /// The bench, by its name in the configuration.
    pub(crate) bench: String,
    /// Why.
    pub(crate) cause: Cause,
    /// Since when.
    pub(crate) since: Timestamp,
}

pub(super) const TABLE: &str = "CREATE TABLE IF NOT EXISTS pause (
    bench TEXT PRIMARY KEY,
    cause TEXT NOT NULL,
    since TEXT NOT NULL
) STRICT;";

pub(super) fn keep(
    connection: &Connection,
    bench: &str,
    cause: Option<Cause>,
    now: Timestamp,
) -> rusqlite::Result<()> {
    let Some(cause) = cause else {
        return connection.execute("DELETE FROM pause WHERE bench = ?1", [bench]).map(drop);
    };
    // Since when it is paused does not change with why.
    connection
        .execute(
            "INSERT INTO pause (bench, cause, since) VALUES (?1, ?2, ?3)
             ON CONFLICT (bench) DO UPDATE SET cause = excluded.cause",
            params![bench, cause.word(), now.to_string()],
        )
        .map(drop)
}

pub(super) fn all(connection: &Connection) -> rusqlite::Result<Vec<Pause>> {
    connection
        .prepare_cached("SELECT bench, cause, since FROM pause ORDER BY bench")?
        .query_map([], |row| {
            Ok(Pause {
                bench: row.get(0)?,
                cause: parsed(row, 1, |text| Cause::ALL.into_iter().find(|cause| cause.word() == text))?,
                since: parsed(row, 2, |text| text.parse().ok())?,
            })
        })?
        .collect()
}
