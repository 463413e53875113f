//! One run in a file of its own: a record like any other, to be kept elsewhere or sent.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, Transaction, TransactionBehavior};
use spurline_record::{RunId, RunState};

use crate::error::StoreError;
use crate::open::{self, Store};
use crate::shared::Shared;
use crate::{copy, place, schema};

impl Store {
    /// Writes a run that has ended, all of it, to a new file.
    ///
    /// # Errors
    ///
    /// If there is no such run, or it goes on, or its chain is broken; if the file is there, or cannot be written.
    pub fn export(&self, run: &RunId, file: &Path) -> Result<(), StoreError> {
        let found = self.verify(run)?;
        if found.state == RunState::Running {
            return Err(StoreError::StillRunning { run: run.clone() });
        }
        found.refuse_broken()?;
        if file.symlink_metadata().is_ok() {
            return Err(StoreError::FileThere { file: file.to_owned() });
        }
        // Under another name until it is whole: nobody takes a part of a run for it.
        let mut part = file.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        drop(fs::remove_file(&part));
        let named = self.write_checked(run, &part, file).and_then(|()| {
            fs::rename(&part, file).map_err(|source| StoreError::Place {
                action: "name",
                place: file.to_owned(),
                source,
            })?;
            place::settle(file.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new(".")))
        });
        if named.is_err() {
            // What was left of it says nothing; the error tells what went wrong.
            drop(fs::remove_file(&part));
        }
        named
    }

    fn write_checked(&self, run: &RunId, part: &Path, file: &Path) -> Result<(), StoreError> {
        let connection = self.write_to(run, part).map_err(|source| StoreError::Write {
            what: "a copy".to_owned(),
            run: run.clone(),
            file: file.to_owned(),
            source,
        })?;
        let copy =
            Self { connection: Shared::alone(connection), file: part.to_owned(), schema: schema::VERSION };
        copy.verify(run)?.refuse_broken()
    }

    fn write_to(&self, run: &RunId, part: &Path) -> rusqlite::Result<Connection> {
        let into = open::fresh(part)?;
        let connection = self.connection.turn();
        let snapshot = Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
        let writing = Transaction::new_unchecked(&into, TransactionBehavior::Immediate)?;
        copy::run(&snapshot, &writing, run)?;
        if self.schema < 4 {
            writing.execute("UPDATE run SET readings = (SELECT count(*) FROM reading)", [])?;
        }
        writing.commit()?;
        Ok(into)
    }
}
