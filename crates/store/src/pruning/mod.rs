//! What was taken out of runs to give its room back, and that it was.

use std::path::Path;

use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, Transaction, TransactionBehavior, params};
use serde::{Deserialize, Serialize};
use spurline_record::{RunId, RunState};

use crate::column::{get_stamp, get_word, stamp};
use crate::error::StoreError;
use crate::open::Store;
use crate::place;

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

/// What pruning of one run comes to, or would.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Room {
    /// The run.
    pub run: RunId,
    /// How many sweeps, or messages.
    pub items: u64,
    /// How many bytes of the record.
    pub size: u64,
}

/// What is counted, and what is done, for each kind.
struct Steps {
    count: &'static str,
    empty: &'static [&'static str],
}

const SWEEPS: Steps = Steps {
    count: "SELECT count(*), coalesce(sum(length(data)), 0) FROM sweep WHERE run = ?1 AND codec <> 2",
    empty: &["UPDATE sweep SET codec = 2, data = x'' WHERE run = ?1 AND codec <> 2"],
};

const TRANSCRIPT: Steps = Steps {
    count: "SELECT coalesce(sum(items), 0), coalesce(sum(size), 0) FROM (
                SELECT sum(entries) AS items, sum(length(data)) AS size FROM transcript_batch
                WHERE run = ?1 AND codec <> 2
                UNION ALL
                SELECT count(*), sum(length(bytes)) FROM transcript WHERE run = ?1)",
    empty: &[
        "UPDATE transcript_batch SET codec = 2, data = x'' WHERE run = ?1 AND codec <> 2",
        "DELETE FROM transcript WHERE run = ?1",
    ],
};

const fn steps(what: Prunable) -> Steps {
    match what {
        Prunable::Sweeps => SWEEPS,
        Prunable::Transcript => TRANSCRIPT,
    }
}

impl Store {
    /// The runs that ended before a time, the oldest first.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn ended_before(&self, time: Timestamp) -> Result<Vec<RunId>, StoreError> {
        let read = || {
            self.connection
                .turn()
                .prepare_cached(
                    "SELECT id FROM run WHERE state <> 'running' AND ended < ?1 ORDER BY ended, id",
                )?
                .query_map([stamp(time)], |row| row.get(0).map(RunId::from_record))?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread("the names of runs"))
    }

    /// The runs that have ended and whose end has not come yet by a clock of this machine: theirs was a simulated one. Each
    /// with its end.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn ended_after(&self, time: Timestamp) -> Result<Vec<(RunId, String)>, StoreError> {
        let read = || {
            self.connection
                .turn()
                .prepare_cached(
                    "SELECT id, ended FROM run WHERE state <> 'running' AND ended > ?1 ORDER BY ended, id",
                )?
                .query_map([stamp(time)], |row| Ok((row.get(0).map(RunId::from_record)?, row.get(1)?)))?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread("the names of runs"))
    }

    /// What could be taken out of a run.
    ///
    /// # Errors
    ///
    /// If there is no such run, or it goes on, or its chain is broken; if the record cannot be read.
    pub fn prunable(&self, run: &RunId, what: Prunable) -> Result<Room, StoreError> {
        let found = self.verify(run)?;
        found.refuse_broken()?;
        if found.state == RunState::Running {
            return Err(StoreError::StillRunning { run: run.clone() });
        }
        let (items, size): (i64, i64) = self
            .connection
            .turn()
            .query_row(steps(what).count, [run.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))
            .map_err(self.unread(format!("run `{run}`")))?;
        Ok(Room { run: run.clone(), items: items.unsigned_abs(), size: size.unsigned_abs() })
    }

    /// Takes the levels of sweeps, or the messages of links, out of a run that has ended. Their hashes stay, so that its
    /// chain still verifies, and the record says what was taken out, when, and by which software.
    ///
    /// # Errors
    ///
    /// If there is no such run, or it goes on, or its chain is broken already; if the record cannot be written.
    pub fn prune(
        &self,
        run: &RunId,
        what: Prunable,
        at: Timestamp,
        software: &str,
    ) -> Result<Room, StoreError> {
        // What is broken is evidence as it is.
        self.verify(run)?.refuse_broken()?;
        let write = || {
            let connection = self.connection.turn();
            let into = Transaction::new_unchecked(&connection, TransactionBehavior::Immediate)?;
            let state: String =
                into.query_row("SELECT state FROM run WHERE id = ?1", [run.as_str()], |row| row.get(0))?;
            if state == RunState::Running.word() {
                return Ok(None);
            }
            let (items, size): (i64, i64) =
                into.query_row(steps(what).count, [run.as_str()], |row| Ok((row.get(0)?, row.get(1)?)))?;
            if items > 0 {
                for step in steps(what).empty {
                    into.execute(step, [run.as_str()])?;
                }
                into.execute(
                    "INSERT INTO pruning (run, at, what, items, size, software) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                    params![run.as_str(), stamp(at), what.word(), items, size, software],
                )?;
            }
            into.commit()?;
            Ok(Some(Room { run: run.clone(), items: items.unsigned_abs(), size: size.unsigned_abs() }))
        };
        write()
            .map_err(|source| StoreError::Write {
                what: "the pruning".to_owned(),
                run: run.clone(),
                file: self.file.clone(),
                source,
            })?
            .ok_or_else(|| StoreError::StillRunning { run: run.clone() })
    }

    /// Gives the room of what was taken out back to the disk: the file is written anew without it. `false` if that was left
    /// for another time, because somebody uses the record or there is no room for the copy; later runs fill the room then.
    ///
    /// # Errors
    ///
    /// If the record cannot be written.
    pub fn give_room_back(&self) -> Result<bool, StoreError> {
        let folder = self.file.parent().unwrap_or(Path::new("."));
        let size = std::fs::metadata(&self.file)
            .map_err(|source| StoreError::Place { action: "look at", place: self.file.clone(), source })?
            .len();
        // Once as the copy, once more as it goes through the log.
        if place::free(folder)? < 2 * size {
            return Ok(false);
        }
        let vacuum = || {
            self.connection.turn().execute_batch("VACUUM")?;
            self.connection
                .turn()
                .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get::<_, i64>(0))
        };
        match vacuum() {
            Ok(busy) => Ok(busy == 0),
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => Ok(false),
            Err(source) => {
                Err(StoreError::Read { what: "the room back".to_owned(), file: self.file.clone(), source })
            }
        }
    }
}

#[cfg(test)]
mod tests;
