//! A run out of a file that came from elsewhere. The file is held to be hostile until it is shown that it is a record
//! whose only run is what was recorded.

mod beside;

use std::error::Error;
use std::fs;
use std::path::Path;

use rusqlite::limits::Limit;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior};
use spurline_record::{RunId, RunState};

use crate::chain::Hash;
use crate::error::StoreError;
use crate::open::{self, Store};
use crate::pruning::Prunable;
use crate::shared::Shared;
use crate::verify::{Standing, verify};
use crate::{copy, schema};
use beside::Taken;

/// No text and no blob of a file from elsewhere is larger: the largest that is written is a batch of messages.
const LARGEST: i32 = 128 << 20;

/// So many points of sweeps are taken in, 256 MB of levels: a run of some hundred readings has a hundredth of it.
const MOST_POINTS: i64 = 1 << 26;

/// What came of taking a run in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    /// The run.
    pub run: RunId,
    /// Its head.
    pub head: Hash,
    /// Whether it is new here; otherwise the same run was here already, and only what was made on it since is taken.
    pub new: bool,
    /// How many verdicts were taken in, those of a new run included.
    pub verdicts: u32,
    /// How many signatures were taken in, those of a new run included.
    pub signatures: u32,
    /// Verdicts that have another number here than in the file: theirs was taken already. Number there, then here.
    pub renumbered: Vec<(u32, u32)>,
    /// What of the run is there in one of both only, where it was here already: that stays so.
    pub differs: Vec<Pruned>,
}

/// What was taken out on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pruned {
    /// What.
    pub what: Prunable,
    /// Whether it is the record that has it no more; otherwise the file.
    pub here: bool,
}

/// A file from elsewhere whose only run was shown to be whole, before any record has a part in it.
#[derive(Debug)]
pub struct Incoming {
    from: Store,
    run: RunId,
    head: Hash,
}

impl Incoming {
    /// Looks at a file.
    ///
    /// # Errors
    ///
    /// If the file is no record, or one of a newer program; if its structure is not exactly that of a record, it is
    /// damaged, or holds another number of runs than one; if the run goes on, has no chain or a broken one.
    pub fn of(file: &Path) -> Result<Self, StoreError> {
        let from = hostile(file)?;
        // Whatever cannot be read or is not whole is of the file, not of the record.
        let (run, head) = shown(&from).map_err(|error| not_taken(file, error))?;
        Ok(Self { from, run, head })
    }
}

impl Store {
    /// Takes the run of an exported file in. The chain is verified before, and of the copy again before it counts. Of a run
    /// that is here already, verdicts and signatures that were made since are taken.
    ///
    /// # Errors
    ///
    /// If the file is not as [`Incoming::of`] wants it; if another run of that name is here, or another signature on it; if
    /// the record cannot be written.
    pub fn import(&self, file: &Path) -> Result<Imported, StoreError> {
        self.take_in(&Incoming::of(file)?)
    }

    /// The same of a file that was looked at before there was a record to take it in.
    ///
    /// # Errors
    ///
    /// If another run of that name is here, or another signature on it; if the record cannot be written.
    pub fn take_in(&self, incoming: &Incoming) -> Result<Imported, StoreError> {
        self.take(&incoming.from, &incoming.run, incoming.head)
    }

    /// Copies the run, or what was made on it since.
    fn take(&self, from: &Self, run: &RunId, head: Hash) -> Result<Imported, StoreError> {
        let other = || StoreError::OtherRun { run: run.clone(), file: self.file.clone() };
        let write = || {
            let connection = self.connection.turn();
            let into = Transaction::new_unchecked(&connection, TransactionBehavior::Immediate)?;
            let here = "SELECT head FROM run WHERE id = ?1";
            let there: Option<Option<Hash>> =
                into.query_row(here, [run.as_str()], |row| row.get(0)).optional()?;
            let new = there.is_none();
            if there.is_some_and(|there| there != Some(head)) {
                return Ok(Err(other()));
            }
            let before = beside::Counts::of(&into, run)?;
            let mut renumbered = Vec::new();
            if new {
                copy::run(&from.connection.turn(), &into, run)?;
            } else {
                match beside::take(&from.connection.turn(), &into, run)? {
                    Taken::Verdicts(numbers) => renumbered = numbers,
                    Taken::Other(what) => {
                        let (run, file) = (run.clone(), from.file.clone());
                        return Ok(Err(StoreError::OtherBeside { what, run, file }));
                    }
                }
            }
            renumbered.retain(|(there, here)| there != here);
            // The file may have changed since it was looked at.
            let copied = verify(&into, schema::VERSION, run)?;
            if !new && let Err(broken) = copied.refuse_broken() {
                return Ok(Err(broken));
            }
            if copied.standing != Standing::Whole || copied.head != Some(head) {
                return Ok(Err(other()));
            }
            let differs = if new { Vec::new() } else { beside::pruned(&from.connection.turn(), &into, run)? };
            let (verdicts, signatures) = beside::Counts::of(&into, run)?.since(&before);
            into.commit()?;
            Ok(Ok(Imported { run: run.clone(), head, new, verdicts, signatures, renumbered, differs }))
        };
        write().map_err(|source| StoreError::Write {
            what: "a copy".to_owned(),
            run: run.clone(),
            file: self.file.clone(),
            source,
        })?
    }
}

/// The run of a file and its head, once it is shown that it is whole and that all of it can be read.
fn shown(from: &Store) -> Result<(RunId, Hash), StoreError> {
    let run = only_run(from)?;
    let because = |why: String| StoreError::NotTaken { file: from.file.clone(), why };
    // A few bytes can stand for many points: that is looked at before any of them is worked out.
    let points: Option<i64> = from
        .connection
        .turn()
        .query_row("SELECT sum(n) FROM sweep WHERE run = ?1 AND codec <> 2", [run.as_str()], |row| row.get(0))
        .map_err(from.unread("the size of its sweeps"))?;
    if points.unwrap_or(0) > MOST_POINTS {
        return Err(because(format!("its sweeps have more than {MOST_POINTS} points")));
    }
    let found = from.verify(&run)?;
    found.refuse_broken()?;
    let head = match (found.standing, found.head) {
        (Standing::Whole, Some(head)) => head,
        _ => return Err(StoreError::Unchained { run }),
    };
    if found.state == RunState::Running {
        return Err(StoreError::StillRunning { run });
    }
    if let Some(broken) = from.broken_verdicts(&run)?.into_iter().next() {
        return Err(because(broken));
    }
    // What cannot be shown, reported or judged again is not taken in either.
    from.load(&run)?;
    from.transcript(&run)?;
    for summary in from.verdicts(&run)? {
        from.verdict(&run, summary.number)?;
    }
    Ok((run, head))
}

/// The error of reading a file from elsewhere, as one about that file.
fn not_taken(file: &Path, error: StoreError) -> StoreError {
    match error {
        StoreError::Read { .. } | StoreError::NotWhole { .. } => {
            let mut why = error.to_string();
            let mut cause = error.source();
            while let Some(next) = cause {
                why.push_str(&format!(": {next}"));
                cause = next.source();
            }
            StoreError::NotTaken { file: file.to_owned(), why }
        }
        other => other,
    }
}

/// Opens a file that nobody vouches for: nothing of it is run, and nothing beside it is read or made.
fn hostile(file: &Path) -> Result<Store, StoreError> {
    let no_file =
        |error: std::io::Error| StoreError::NoFile { file: file.to_owned(), why: error.to_string() };
    // Asked first: opening a pipe would wait for somebody to write.
    if !fs::metadata(file).map_err(no_file)?.is_file() {
        return Err(StoreError::NoFile { file: file.to_owned(), why: "it is no file".to_owned() });
    }
    // It may be there and not for this user.
    drop(fs::File::open(file).map_err(no_file)?);
    if open::log_of(file).is_some() {
        return Err(StoreError::InUse { file: file.to_owned() });
    }
    let open = || {
        let connection = open::as_it_stands(file)?;
        connection.set_limit(Limit::SQLITE_LIMIT_LENGTH, LARGEST)?;
        connection.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
        Ok(connection)
    };
    let failed =
        |error: rusqlite::Error| StoreError::Damaged { file: file.to_owned(), what: error.to_string() };
    let connection: Connection = open().map_err(failed)?;
    let not_ours = || StoreError::NotARecord { file: file.to_owned() };
    let found = schema::find(&connection).map_err(failed)?;
    let schema = open::ours(Ok(found), file)?.ok_or_else(not_ours)?;
    if objects(&connection).map_err(failed)? != schema_of(schema).map_err(failed)? {
        return Err(StoreError::StrangeSchema { file: file.to_owned() });
    }
    let check: String =
        connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0)).map_err(failed)?;
    if check != "ok" {
        return Err(StoreError::Damaged { file: file.to_owned(), what: check });
    }
    Ok(Store { connection: Shared::alone(connection), file: file.to_owned(), schema })
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
            why: "its run has a name that no run is given".to_owned(),
        }),
        // One that goes on is gone on with where its bench is: its files say what is keyed, and by which commands.
        [only] if only.state != RunState::Finished => Err(StoreError::NotTaken {
            file: from.file.clone(),
            why: "its run did not go to its end".to_owned(),
        }),
        [only] if from.load_readings(&only.id)?.header.id != only.id => {
            Err(StoreError::NotTaken { file: from.file.clone(), why: "its run has two names".to_owned() })
        }
        [only] => Ok(only.id.clone()),
        [] => Err(StoreError::NoRuns { file: from.file.clone() }),
        _ => Err(StoreError::SeveralRuns { file: from.file.clone() }),
    }
}

#[cfg(test)]
mod tests;
