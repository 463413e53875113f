//! A run out of a file that came from elsewhere. The file is held to be hostile until it is shown that it is a record
//! whose only run is what was recorded.

use std::fs;
use std::path::Path;

use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior};
use spurline_record::{RunId, RunState};

use crate::chain::Hash;
use crate::error::StoreError;
use crate::open::{self, Store};
use crate::verify::{Standing, verify};
use crate::{copy, schema};

/// No text and no blob of a file from elsewhere is larger: the largest that is written is a batch of messages.
const LARGEST: i32 = 128 << 20;

/// What came of taking a run in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    /// The run.
    pub run: RunId,
    /// Its head.
    pub head: Hash,
    /// Whether it is new here; otherwise the same run was here already, and nothing was done.
    pub new: bool,
}

impl Store {
    /// Takes the run of an exported file in. The chain is verified before, and of the copy again before it counts.
    ///
    /// # Errors
    ///
    /// If the file is no record, or one of a newer program; if its structure is not exactly that of a record, it is
    /// damaged, or holds another number of runs than one; if the run goes on, has no chain or a broken one; if another
    /// run of that name is here; if it cannot be read or written.
    pub fn import(&self, file: &Path) -> Result<Imported, StoreError> {
        let from = hostile(file)?;
        let run = only_run(&from)?;
        let found = from.verify(&run)?;
        found.refuse_broken()?;
        let head = match (found.standing, found.head) {
            (Standing::Whole, Some(head)) => head,
            _ => return Err(StoreError::Unchained { run }),
        };
        if found.state == RunState::Running {
            return Err(StoreError::StillRunning { run });
        }
        // What cannot be shown is not taken in either.
        from.load_readings(&run)?;
        from.transcript(&run)?;
        for summary in from.verdicts(&run)? {
            from.verdict(&run, summary.number)?;
        }
        let new = self.take(&from, &run, head)?;
        Ok(Imported { run, head, new })
    }

    /// Copies the run; `false` if it was here already.
    fn take(&self, from: &Self, run: &RunId, head: Hash) -> Result<bool, StoreError> {
        let here = "SELECT head FROM run WHERE id = ?1";
        let other = || StoreError::OtherRun { run: run.clone(), file: self.file.clone() };
        let write = || {
            let into = Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
            let there: Option<Option<Hash>> =
                into.query_row(here, [run.as_str()], |row| row.get(0)).optional()?;
            if let Some(there) = there {
                return Ok(if there == Some(head) { Ok(false) } else { Err(other()) });
            }
            copy::run(&from.connection, &into, run)?;
            // The file may have changed since it was looked at.
            let copied = verify(&into, schema::VERSION, run)?;
            if copied.standing != Standing::Whole || copied.head != Some(head) {
                return Ok(Err(other()));
            }
            into.commit()?;
            Ok(Ok(true))
        };
        write().map_err(|source| StoreError::Write {
            what: "a copy".to_owned(),
            run: run.clone(),
            file: self.file.clone(),
            source,
        })?
    }
}

/// Opens a file that nobody vouches for: nothing of it is run, and nothing beside it is read or made.
fn hostile(file: &Path) -> Result<Store, StoreError> {
    let place = |source| StoreError::Place { action: "read", place: file.to_owned(), source };
    if !fs::metadata(file).map_err(place)?.is_file() {
        return Err(StoreError::NotARecord { file: file.to_owned() });
    }
    let mut log = file.as_os_str().to_owned();
    log.push("-wal");
    if fs::metadata(&log).is_ok_and(|log| log.len() > 0) {
        return Err(StoreError::InUse { file: file.to_owned() });
    }
    let open = || {
        // As of now, whatever is beside it: no log of a writer is played back.
        let flags =
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(format!("file:{}?immutable=1", escaped(file)), flags)?;
        open::distrust(&connection)?;
        connection.set_limit(Limit::SQLITE_LIMIT_LENGTH, LARGEST)?;
        connection.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
        Ok(connection)
    };
    let failed = |source| StoreError::Open { file: file.to_owned(), source };
    let connection: Connection = open().map_err(failed)?;
    let not_ours = || StoreError::NotARecord { file: file.to_owned() };
    let schema = open::ours(schema::find(&connection), file)?.ok_or_else(not_ours)?;
    if objects(&connection).map_err(failed)? != schema_of(schema).map_err(failed)? {
        return Err(StoreError::StrangeSchema { file: file.to_owned() });
    }
    let check: String =
        connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0)).map_err(failed)?;
    if check != "ok" {
        return Err(StoreError::Damaged { file: file.to_owned(), what: check });
    }
    Ok(Store { connection, file: file.to_owned(), schema })
}

/// A path within a URI.
fn escaped(file: &Path) -> String {
    use std::os::unix::ffi::OsStrExt;
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"/._-".contains(&byte);
    let absolute = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    let bytes = absolute.as_os_str().as_bytes().iter();
    bytes
        .map(|byte| if plain(*byte) { char::from(*byte).to_string() } else { format!("%{byte:02X}") })
        .collect()
}

/// Everything that a file defines: tables, indexes, views, triggers, each with its text.
fn objects(of: &Connection) -> rusqlite::Result<Vec<[Option<String>; 4]>> {
    of.prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY 1, 2, 3, 4 LIMIT 1000")?
        .query_map([], |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]))?
        .collect()
}

/// What a record of that schema defines.
fn schema_of(version: i64) -> rusqlite::Result<Vec<[Option<String>; 4]>> {
    let model = Connection::open_in_memory()?;
    schema::lay(&model, version)?;
    objects(&model)
}

fn only_run(from: &Store) -> Result<RunId, StoreError> {
    let runs = from.newest_runs(2)?;
    match runs.as_slice() {
        [only] if !only.id.is_well_formed() => Err(StoreError::NotTaken {
            file: from.file.clone(),
            why: "its run has a name that no run is given",
        }),
        // One that goes on is gone on with where its bench is: its files say what is keyed, and by which commands.
        [only] if only.state != RunState::Finished => {
            Err(StoreError::NotTaken { file: from.file.clone(), why: "its run did not go to its end" })
        }
        [only] if from.load_readings(&only.id)?.header.id != only.id => {
            Err(StoreError::NotTaken { file: from.file.clone(), why: "its run has two names" })
        }
        [only] => Ok(only.id.clone()),
        [] => Err(StoreError::NoRuns { file: from.file.clone() }),
        _ => Err(StoreError::SeveralRuns { file: from.file.clone() }),
    }
}

#[cfg(test)]
mod tests;
