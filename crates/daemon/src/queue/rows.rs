//! The table of the queue's entries.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row, params};
use spurline_record::{Outcome, RunId};

use super::{Ending, Entry, Standing, Wanted, WentOn, holds};

/// The version of the tables: since 2 pauses are kept, which an older program would not heed.
pub(super) const VERSION: i64 = 2;

const COLUMNS: &str =
    "id, bench, plan, unit, firmware, goes_on, wanted_by, standing, run, outcome, told, asked, began, ended,
     CASE WHEN run IS NOT NULL AND standing IN ('stopped', 'failed') THEN
         (SELECT max(later.id) FROM entry AS later
          WHERE later.goes_on = entry.run AND later.id > entry.id AND later.standing <> 'withdrawn') END";

/// Makes the tables if they are not there, and says their version.
pub(super) fn prepare(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.busy_timeout(std::time::Duration::from_secs(5))?;
    let version: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    if version == 0 {
        connection.execute_batch(
            "BEGIN IMMEDIATE;
             CREATE TABLE IF NOT EXISTS entry (
                 id        INTEGER PRIMARY KEY AUTOINCREMENT,
                 place     INTEGER NOT NULL,
                 bench     TEXT NOT NULL,
                 plan      TEXT NOT NULL,
                 unit      TEXT,
                 firmware  TEXT,
                 goes_on   TEXT,
                 wanted_by TEXT NOT NULL,
                 standing  TEXT NOT NULL,
                 run       TEXT,
                 outcome   TEXT,
                 told      TEXT,
                 asked     TEXT NOT NULL,
                 began     TEXT,
                 ended     TEXT
             ) STRICT;
             CREATE INDEX IF NOT EXISTS entry_turn ON entry (standing, bench, place);
             PRAGMA user_version = 1;
             COMMIT;",
        )?;
    }
    if version < 2 {
        let step = format!("BEGIN IMMEDIATE; {} PRAGMA user_version = 2; COMMIT;", super::pauses::TABLE);
        connection.execute_batch(&step)?;
    }
    if version <= VERSION {
        // Entries are kept for ever: without these every asking would look at all that have been.
        connection.execute_batch(
            "CREATE INDEX IF NOT EXISTS entry_place ON entry (place);
             CREATE INDEX IF NOT EXISTS entry_goes_on ON entry (goes_on, id) WHERE goes_on IS NOT NULL;
             CREATE INDEX IF NOT EXISTS entry_run ON entry (run, id) WHERE run IS NOT NULL;
             CREATE INDEX IF NOT EXISTS entry_ended ON entry (ended, id) WHERE standing NOT IN ('running', 'waiting');",
        )?;
    }
    Ok(version.max(VERSION))
}

pub(super) fn add(connection: &Connection, wanted: &Wanted, now: Timestamp) -> rusqlite::Result<Entry> {
    connection.execute(
        "INSERT INTO entry (place, bench, plan, unit, firmware, goes_on, wanted_by, standing, asked)
         VALUES ((SELECT coalesce(max(place), 0) + 1 FROM entry), ?1, ?2, ?3, ?4, ?5, ?6, 'waiting', ?7)",
        params![
            wanted.bench,
            wanted.plan,
            wanted.unit,
            wanted.firmware,
            wanted.goes_on.as_ref().map(RunId::as_str),
            wanted.by,
            now.to_string(),
        ],
    )?;
    let id = connection.last_insert_rowid();
    one(connection, "id = ?1", [id]).map(|entry| entry.expect("it was put there just now"))
}

/// The entry that runs or waits with a run.
pub(super) fn pending(connection: &Connection, run: &RunId) -> rusqlite::Result<Option<u64>> {
    connection
        .prepare_cached(
            "SELECT min(id) FROM entry WHERE standing IN ('running', 'waiting') AND (run = ?1 OR goes_on = ?1)",
        )?
        .query_row([run.as_str()], |row| row.get::<_, Option<i64>>(0))
        .map(|id| id.map(i64::unsigned_abs))
}

pub(super) fn newest_of(connection: &Connection, run: &RunId) -> rusqlite::Result<Option<Entry>> {
    let which = "SELECT max(id) FROM entry WHERE run = ?1";
    let id: Option<i64> = connection.prepare_cached(which)?.query_row([run.as_str()], |row| row.get(0))?;
    id.map_or(Ok(None), |id| one(connection, "id = ?1", [id]))
}

pub(super) fn waiting(connection: &Connection, bench: &str) -> rusqlite::Result<u64> {
    connection
        .prepare_cached("SELECT count(*) FROM entry WHERE standing = 'waiting' AND bench = ?1")?
        .query_row([bench], |row| row.get::<_, i64>(0))
        .map(i64::unsigned_abs)
}

pub(super) fn take(connection: &Connection, bench: &str, now: Timestamp) -> rusqlite::Result<Option<Entry>> {
    let taken: Option<i64> = connection
        .prepare_cached(
            "UPDATE entry SET standing = 'running', began = ?2
             WHERE id = (SELECT id FROM entry WHERE standing = 'waiting' AND bench = ?1 ORDER BY place LIMIT 1)
             RETURNING id",
        )?
        .query_row(params![bench, now.to_string()], |row| row.get(0))
        .optional()?;
    taken.map_or(Ok(None), |id| one(connection, "id = ?1", [id]))
}

pub(super) fn named(connection: &Connection, id: u64, run: &RunId) -> rusqlite::Result<()> {
    connection.execute("UPDATE entry SET run = ?2 WHERE id = ?1", params![number(id), run.as_str()]).map(drop)
}

pub(super) fn ended(
    connection: &Connection,
    id: u64,
    ending: &Ending,
    now: Timestamp,
) -> rusqlite::Result<()> {
    let outcome = ending.outcome.map(Outcome::word);
    let standing = ending.standing.word();
    connection
        .execute(
            "UPDATE entry SET standing = ?2, outcome = ?3, told = ?4, ended = ?5 WHERE id = ?1",
            params![number(id), standing, outcome, ending.told, now.to_string()],
        )
        .map(drop)
}

pub(super) fn withdraw(connection: &Connection, id: u64, now: Timestamp) -> rusqlite::Result<bool> {
    let changed = connection.execute(
        "UPDATE entry SET standing = 'withdrawn', ended = ?2 WHERE id = ?1 AND standing = 'waiting'",
        params![number(id), now.to_string()],
    )?;
    Ok(changed > 0)
}

pub(super) fn first(connection: &Connection, id: u64) -> rusqlite::Result<bool> {
    let changed = connection.execute(
        "UPDATE entry SET place = (SELECT min(place) - 1 FROM entry) WHERE id = ?1 AND standing = 'waiting'",
        [number(id)],
    )?;
    Ok(changed > 0)
}

pub(super) fn entry(connection: &Connection, id: u64) -> rusqlite::Result<Option<Entry>> {
    one(connection, "id = ?1", [number(id)])
}

pub(super) fn entries(connection: &Connection, most: u32) -> rusqlite::Result<Vec<Entry>> {
    let mut entries = many(
        connection,
        "standing IN ('running', 'waiting') ORDER BY standing = 'waiting', place LIMIT ?1",
        [i64::MAX],
    )?;
    entries.extend(many(
        connection,
        "standing NOT IN ('running', 'waiting') ORDER BY ended DESC, id DESC LIMIT ?1",
        [i64::from(most)],
    )?);
    Ok(entries)
}

pub(super) fn recover(connection: &Connection) -> rusqlite::Result<Vec<Entry>> {
    connection.execute(
        "UPDATE entry SET standing = 'waiting', place = place - (SELECT max(place) + 1 FROM entry),
                          goes_on = coalesce(run, goes_on)
         WHERE standing = 'running'",
        [],
    )?;
    many(connection, "standing = 'waiting' AND began IS NOT NULL ORDER BY place LIMIT ?1", [i64::MAX])
}

fn one(connection: &Connection, which: &str, of: [i64; 1]) -> rusqlite::Result<Option<Entry>> {
    Ok(many(connection, which, of)?.pop())
}

fn many(connection: &Connection, which: &str, of: [i64; 1]) -> rusqlite::Result<Vec<Entry>> {
    connection
        .prepare_cached(&format!("SELECT {COLUMNS} FROM entry WHERE {which}"))?
        .query_map(of, |row| {
            let entry = read(row)?;
            let later = row.get::<_, Option<i64>>(14)?;
            let went_on = later.map_or(Ok(None), |later| went_on(connection, later))?;
            Ok(Entry { went_on, ..entry })
        })?
        .collect()
}

fn went_on(connection: &Connection, later: i64) -> rusqlite::Result<Option<WentOn>> {
    let entry = connection
        .prepare_cached(&format!("SELECT {COLUMNS} FROM entry WHERE id = ?1"))?
        .query_row([later], read)
        .optional()?;
    Ok(entry.map(|Entry { id, standing, outcome, .. }| WentOn { entry: id, standing, outcome }))
}

fn read(row: &Row<'_>) -> rusqlite::Result<Entry> {
    let standing = parsed(row, 7, |text| STANDINGS.into_iter().find(|standing| standing.word() == text))?;
    Ok(Entry {
        id: row.get::<_, i64>(0)?.unsigned_abs(),
        wanted: Wanted {
            bench: row.get(1)?,
            plan: row.get(2)?,
            unit: row.get(3)?,
            firmware: row.get(4)?,
            goes_on: row.get::<_, Option<String>>(5)?.map(RunId::from_record),
            by: row.get(6)?,
        },
        standing,
        run: row.get::<_, Option<String>>(8)?.map(RunId::from_record),
        outcome: match row.get::<_, Option<String>>(9)? {
            Some(_) => {
                let found =
                    parsed(row, 9, |text| Outcome::ALL.into_iter().find(|known| known.word() == text))?;
                Some(found).filter(|outcome| holds(standing == Standing::Done, *outcome))
            }
            None => None,
        },
        told: row.get(10)?,
        went_on: None,
        asked: parsed(row, 11, |text| text.parse().ok())?,
        began: stamp(row, 12)?,
        ended: stamp(row, 13)?,
    })
}

fn stamp(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Timestamp>> {
    match row.get::<_, Option<String>>(column)? {
        Some(_) => parsed(row, column, |text| text.parse().ok()).map(Some),
        None => Ok(None),
    }
}

pub(super) fn parsed<T>(
    row: &Row<'_>,
    column: usize,
    of: impl FnOnce(&str) -> Option<T>,
) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    of(&text).ok_or_else(|| {
        let error = format!("`{text}` is not what stands there").into();
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, error)
    })
}

const STANDINGS: [Standing; 6] = [
    Standing::Waiting,
    Standing::Running,
    Standing::Done,
    Standing::Stopped,
    Standing::Failed,
    Standing::Withdrawn,
];

/// Numbers are given by the table itself: one that does not fit is none of its own.
fn number(id: u64) -> i64 {
    i64::try_from(id).unwrap_or(-1)
}
