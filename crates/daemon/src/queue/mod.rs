//! What the benches still have to do and what they did, in one order, on the disk before it is answered.

mod pauses;
mod rows;

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use jiff::Timestamp;
use rusqlite::Connection;
use serde::Serialize;
use spurline_record::{Outcome, RunId};
use thiserror::Error;
use utoipa::ToSchema;

use crate::bench::Cause;
pub(crate) use pauses::Pause;

/// The queue's file in the folder of the record.
pub const QUEUE_FILE: &str = "queue.sqlite";
/// The most that may wait for one bench.
pub const MOST_WAITING: u64 = 1000;

/// Why the queue did not do what it was asked.
#[derive(Debug, Error)]
pub enum QueueError {
    /// The file cannot be read or written.
    #[error("the queue in {file} cannot be used")]
    File {
        /// The file.
        file: String,
        /// Why.
        #[source]
        source: rusqlite::Error,
    },
    /// It was made by a later version of the program.
    #[error("the queue in {file} is of a later version of the program ({version})")]
    Later {
        /// The file.
        file: String,
        /// Its version.
        version: i64,
    },
    /// Too much waits already.
    #[error("{MOST_WAITING} runs wait for bench `{0}` already")]
    Full(String),
    /// The run is worked on already.
    #[error("run {run} waits to go on or goes on already, as number {entry} of the queue")]
    GoesOn {
        /// The run.
        run: RunId,
        /// The entry.
        entry: u64,
    },
    /// The turn of that entry has come.
    #[error("the run of number {0} waits no more")]
    NotWaiting(u64),
    /// There is no entry of that number.
    #[error("no run of number {0} was ever asked for")]
    Unknown(u64),
}

/// A run that somebody wants.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Wanted {
    /// The bench, by its name in the configuration.
    pub bench: String,
    /// The plan, by its name.
    pub plan: String,
    /// The serial number that the unit must have.
    pub unit: Option<String>,
    /// The firmware version to write into the record.
    pub firmware: Option<String>,
    /// The run to go on with, instead of a new one.
    #[schema(value_type = Option<String>)]
    pub goes_on: Option<RunId>,
    /// Who wants it.
    pub by: String,
}

/// Where an entry stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
#[schema(as = EntryStanding)]
pub enum Standing {
    /// Its turn has not come.
    Waiting,
    /// It is being done.
    Running,
    /// Its run went to its end.
    Done,
    /// Somebody stopped it.
    Stopped,
    /// It could not be done, or broke off.
    Failed,
    /// It was taken out before its turn.
    Withdrawn,
}

impl Standing {
    /// The word for it, on the disk, in the interface and in the log.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Running => "running",
            Self::Done => "done",
            Self::Stopped => "stopped",
            Self::Failed => "failed",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Entry {
    /// Its number, never given twice.
    pub id: u64,
    /// What is wanted.
    #[serde(flatten)]
    pub wanted: Wanted,
    /// Where it stands.
    pub standing: Standing,
    /// Its run, once that has a name.
    #[schema(value_type = Option<String>)]
    pub run: Option<RunId>,
    /// What the run came to; of one that did not go to its end `exceeds` or nothing.
    #[schema(value_type = Option<String>)]
    pub outcome: Option<Outcome>,
    /// Why it was not done, in one line with advice.
    pub told: Option<String>,
    /// The newest entry that went on with its run after this one had been stopped or had broken off.
    pub went_on: Option<WentOn>,
    /// When it was asked for.
    #[schema(value_type = String, format = DateTime)]
    pub asked: Timestamp,
    /// When its turn came.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub began: Option<Timestamp>,
    /// When it ended.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub ended: Option<Timestamp>,
}

/// What became of a run that went on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct WentOn {
    /// The number of the entry that went on with it.
    pub entry: u64,
    /// Where that stands.
    pub standing: Standing,
    /// What the run came to by then.
    #[schema(value_type = Option<String>)]
    pub outcome: Option<Outcome>,
}

/// Whether an outcome says anything of its run: what is not measured yet may still exceed, but nothing makes good what does.
pub(crate) fn holds(went_to_its_end: bool, outcome: Outcome) -> bool {
    went_to_its_end || outcome == Outcome::Exceeds
}

/// How an entry ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Ending {
    /// Where it stands now.
    pub standing: Standing,
    /// What its run came to.
    pub outcome: Option<Outcome>,
    /// Why it was not done.
    pub told: Option<String>,
}

/// The queue of all benches.
#[derive(Debug)]
pub struct Queue {
    connection: Mutex<Connection>,
    file: String,
}

impl Queue {
    /// Opens the queue in a folder, and makes it if there is none.
    ///
    /// # Errors
    ///
    /// [`QueueError`] if it cannot be used.
    pub fn open(folder: &Path) -> Result<Self, QueueError> {
        let path = folder.join(QUEUE_FILE);
        let file = path.display().to_string();
        let failed = |source| QueueError::File { file: file.clone(), source };
        let connection = Connection::open(&path).map_err(failed)?;
        let version = rows::prepare(&connection).map_err(failed)?;
        if version > rows::VERSION {
            return Err(QueueError::Later { file, version });
        }
        Ok(Self { connection: Mutex::new(connection), file })
    }

    /// Puts a run at the end of its bench's queue.
    ///
    /// # Errors
    ///
    /// [`QueueError`]; nothing was added.
    pub fn add(&self, wanted: &Wanted, now: Timestamp) -> Result<Entry, QueueError> {
        if self.waiting(&wanted.bench)? >= MOST_WAITING {
            return Err(QueueError::Full(wanted.bench.clone()));
        }
        let run = wanted.goes_on.as_ref();
        // Both under one hold of the file: of two who ask at once one is refused.
        let added = self.with(|connection| {
            let pending = run.map_or(Ok(None), |run| rows::pending(connection, run))?;
            pending.map_or_else(|| rows::add(connection, wanted, now).map(Ok), |entry| Ok(Err(entry)))
        })?;
        added.map_err(|entry| match run {
            Some(run) => QueueError::GoesOn { run: run.clone(), entry },
            None => QueueError::NotWaiting(entry),
        })
    }

    /// The entry that goes on with a run, or waits for that.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn pending(&self, run: &RunId) -> Result<Option<u64>, QueueError> {
        self.with(|connection| rows::pending(connection, run))
    }

    /// The newest entry that had to do with a run.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn newest_of(&self, run: &RunId) -> Result<Option<Entry>, QueueError> {
        self.with(|connection| rows::newest_of(connection, run))
    }

    /// How many runs wait for a bench.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn waiting(&self, bench: &str) -> Result<u64, QueueError> {
        self.with(|connection| rows::waiting(connection, bench))
    }

    /// Takes what is next for a bench; it runs from now on.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn take(&self, bench: &str, now: Timestamp) -> Result<Option<Entry>, QueueError> {
        self.with(|connection| rows::take(connection, bench, now))
    }

    /// The run of an entry has its name.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn named(&self, id: u64, run: &RunId) -> Result<(), QueueError> {
        self.with(|connection| rows::named(connection, id, run))
    }

    /// An entry ended.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn ended(&self, id: u64, ending: &Ending, now: Timestamp) -> Result<(), QueueError> {
        self.with(|connection| rows::ended(connection, id, ending, now))
    }

    /// Takes out an entry whose turn has not come.
    ///
    /// # Errors
    ///
    /// [`QueueError::NotWaiting`] if it has, [`QueueError::Unknown`] if there is none.
    pub fn withdraw(&self, id: u64, now: Timestamp) -> Result<(), QueueError> {
        let changed = self.with(|connection| rows::withdraw(connection, id, now))?;
        if changed { Ok(()) } else { Err(self.not_waiting(id)?) }
    }

    /// Why an entry does not wait.
    fn not_waiting(&self, id: u64) -> Result<QueueError, QueueError> {
        Ok(self.entry(id)?.map_or(QueueError::Unknown(id), |_| QueueError::NotWaiting(id)))
    }

    /// Has an entry that waits come next.
    ///
    /// # Errors
    ///
    /// [`QueueError::NotWaiting`] if its turn has come, [`QueueError::Unknown`] if there is none.
    pub fn first(&self, id: u64) -> Result<(), QueueError> {
        let changed = self.with(|connection| rows::first(connection, id))?;
        if changed { Ok(()) } else { Err(self.not_waiting(id)?) }
    }

    /// An entry by its number.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn entry(&self, id: u64) -> Result<Option<Entry>, QueueError> {
        self.with(|connection| rows::entry(connection, id))
    }

    /// What runs and waits, in order, then what ended, the newest first; no more than `most` of the latter.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn entries(&self, most: u32) -> Result<Vec<Entry>, QueueError> {
        self.with(|connection| rows::entries(connection, most))
    }

    /// After the program died: what was running waits again, first of all, and goes on with its run if that has a name.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub fn recover(&self) -> Result<Vec<Entry>, QueueError> {
        self.with(rows::recover)
    }

    /// Keeps that a bench is paused, and why; or that it is not.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub(crate) fn pause(&self, bench: &str, cause: Option<Cause>, now: Timestamp) -> Result<(), QueueError> {
        self.with(|connection| pauses::keep(connection, bench, cause, now))
    }

    /// The benches that are paused.
    ///
    /// # Errors
    ///
    /// [`QueueError::File`].
    pub(crate) fn pauses(&self) -> Result<Vec<Pause>, QueueError> {
        self.with(pauses::all)
    }

    fn with<T>(&self, work: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, QueueError> {
        work(&self.lock()).map_err(|source| QueueError::File { file: self.file.clone(), source })
    }

    fn lock(&self) -> MutexGuard<'_, Connection> {
        // Whoever broke off left a transaction at most, and that is rolled back.
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests;
