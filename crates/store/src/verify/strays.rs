//! Rows that no event brought.

use rusqlite::Connection;
use spurline_record::RunId;

use super::{BreakKind, Found, Place};

/// What may be there without an event that brought it, and how it is counted.
const STRAYS: [(&str, &str); 6] = [
    (
        "reading",
        "SELECT count(*) FROM reading WHERE run = ?1
         AND ordinal NOT IN (SELECT reading FROM event WHERE run = ?1 AND reading IS NOT NULL)",
    ),
    (
        "look",
        "SELECT count(*) FROM acquisition WHERE run = ?1
         AND reading NOT IN (SELECT reading FROM event WHERE run = ?1 AND reading IS NOT NULL)",
    ),
    (
        "sweep",
        "SELECT count(*) FROM sweep WHERE run = ?1
         AND reading NOT IN (SELECT reading FROM event WHERE run = ?1 AND reading IS NOT NULL)",
    ),
    (
        "instrument",
        "SELECT count(*) FROM instrument WHERE run = ?1
         AND sequence NOT IN (SELECT sequence FROM event WHERE run = ?1 AND kind = 'instrument-found')",
    ),
    ("message of an early schema", "SELECT count(*) FROM transcript WHERE run = ?1"),
    (
        "event of a reading that another one finished",
        "SELECT count(reading) - count(DISTINCT reading) FROM event WHERE run = ?1",
    ),
];

pub(super) fn check(from: &Connection, run: &RunId, into: &mut Found) -> rusqlite::Result<()> {
    for (what, query) in STRAYS {
        let count: i64 = from.prepare_cached(query)?.query_row([run.as_str()], |row| row.get(0))?;
        if count > 0 {
            let what = format!("found what no event brought: {what}, {count} of that kind");
            into.add(None, Place::Run, BreakKind::Inserted, what);
        }
    }
    for table in ["signature", "pruning"] {
        let query = format!("SELECT count(*) FROM {table} WHERE run NOT IN (SELECT id FROM run)");
        let count: i64 = from.prepare_cached(&query)?.query_row([], |row| row.get(0))?;
        if count > 0 {
            // It may have been this one's.
            let what = format!("rows of {table} belong to no run of the record, {count} of them");
            into.add(None, Place::Run, BreakKind::Altered, what);
        }
    }
    Ok(())
}
