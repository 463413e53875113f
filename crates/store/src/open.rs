//! Opening the record: the checks and settings that its durability rests on.

mod look;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};
use spurline_record::RunId;

use crate::error::StoreError;
use crate::place;
use crate::recorder::Recorder;
use crate::schema::{self, Found};
use crate::shared::Shared;

pub(crate) use look::has_no_room;

/// The name of the record in the data folder.
pub const RECORD_FILE: &str = "record.sqlite";

/// The oldest SQLite without the known race between a checkpoint and a writer in WAL mode: 3.51.3.
const OLDEST_SQLITE: i32 = 3_051_003;

/// So many statements are kept prepared: all that one commit needs.
const STATEMENTS: usize = 64;

/// How long a statement waits for another process's lock.
const BUSY: Duration = Duration::from_secs(5);

/// Where a record may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disk {
    /// On a disk of this machine; elsewhere neither locks nor writes are sure.
    OfThisMachine,
    /// Wherever it is told.
    Any,
}

/// An open record.
#[derive(Debug)]
pub struct Store {
    pub(crate) connection: Shared,
    pub(crate) file: PathBuf,
    /// The schema of the file, which may be an older one where it was opened for reading.
    pub(crate) schema: i64,
}

impl Store {
    /// Opens the record in `folder` for writing; makes folder and record where they are missing.
    ///
    /// # Errors
    ///
    /// If the folder cannot be made, the file is no record or a newer one, or SQLite cannot open it.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        Self::open_on(folder, Disk::OfThisMachine)
    }

    /// The same, with a say in where the record may be.
    ///
    /// # Errors
    ///
    /// As of [`Store::open`].
    pub fn open_on(folder: &Path, disk: Disk) -> Result<Self, StoreError> {
        recent_enough(rusqlite::version_number())?;
        fs::create_dir_all(folder)
            .map_err(|source| StoreError::CreateFolder { folder: folder.to_owned(), source })?;
        if disk == Disk::OfThisMachine {
            place::refuse_network(folder)?;
        }
        let file = folder.join(RECORD_FILE);
        let new = !file.exists();
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let known = |connection: &Connection| ours(schema::find(connection), &file).map(drop);
        let make = || {
            let mut connection = connect(&file, flags)?;
            // Nothing is written, not even the journal mode, before it is known that the file is ours to write.
            known(&connection)?;
            let set_up = |connection: &mut Connection| {
                connection.pragma_update(None, "journal_mode", "WAL")?;
                connection.pragma_update(None, "synchronous", "FULL")?;
                schema::migrate(connection)
            };
            ours(set_up(&mut connection), &file)?;
            Ok(connection)
        };
        let connection = Shared::of(&file, make, known)?;
        if new {
            place::settle(folder)?;
        }
        Ok(Self { connection, file, schema: schema::VERSION })
    }

    /// Opens the record in `folder` for reading; a writer may be at work in it.
    ///
    /// # Errors
    ///
    /// If there is no record, or it is of a newer schema, or SQLite cannot open it.
    pub fn open_read_only(folder: &Path) -> Result<Self, StoreError> {
        recent_enough(rusqlite::version_number())?;
        let file = folder.join(RECORD_FILE);
        // Where nobody may look, a record may well be: opening it tells why it cannot be seen.
        if matches!(file.try_exists(), Ok(false)) {
            return Err(StoreError::NoRecord { folder: folder.to_owned() });
        }
        let connection = look::connect(&file)?;
        match ours(schema::find(&connection), &file)? {
            None => Err(StoreError::NoRecord { folder: folder.to_owned() }),
            // Every schema that has shipped is read as it is: looking at a record must not need the right to change it.
            Some(schema) => Ok(Self { connection: Shared::alone(connection), file, schema }),
        }
    }

    /// The folder that the record is in.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.file.parent().unwrap_or(Path::new(""))
    }

    /// Turns the store into the writing half for one run.
    #[must_use]
    pub fn into_recorder(self) -> Recorder {
        Recorder::new(self)
    }

    /// The same for a run that the record has already, and that goes on.
    #[must_use]
    pub fn into_recorder_of(self, run: &RunId) -> Recorder {
        Recorder::going_on(self, run.clone())
    }

    /// Wraps the error of a query.
    pub(crate) fn unread(&self, what: impl Into<String>) -> impl FnOnce(rusqlite::Error) -> StoreError {
        let (what, file) = (what.into(), self.file.clone());
        move |source| StoreError::Read { what, file, source }
    }
}

fn recent_enough(found: i32) -> Result<(), StoreError> {
    if found >= OLDEST_SQLITE {
        Ok(())
    } else {
        Err(StoreError::SqliteTooOld { expected: OLDEST_SQLITE, found })
    }
}

fn connect(file: &Path, flags: OpenFlags) -> Result<Connection, StoreError> {
    let open = || {
        let connection = Connection::open_with_flags(file, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
        distrust(&connection)?;
        Ok(connection)
    };
    open().map_err(|source| StoreError::Open { file: file.to_owned(), source })
}

/// What holds for every connection: nothing that a file says is taken on trust.
pub(crate) fn distrust(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(BUSY)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS);
    Ok(())
}

/// A file as of now, whatever is beside it: no log is played back, and nothing is made.
pub(crate) fn as_it_stands(file: &Path) -> rusqlite::Result<Connection> {
    let flags =
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(format!("file:{}?immutable=1", escaped(file)), flags)?;
    distrust(&connection)?;
    Ok(connection)
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

/// What a writer keeps beside a file, with something in it: the log, or the journal of a file without one.
pub(crate) fn log_of(file: &Path) -> Option<PathBuf> {
    ["-wal", "-journal"].into_iter().find_map(|end| {
        let mut log = file.as_os_str().to_owned();
        log.push(end);
        fs::metadata(&log).is_ok_and(|log| log.len() > 0).then(|| PathBuf::from(log))
    })
}

/// An empty record in a new file, without a log beside it.
pub(crate) fn fresh(file: &Path) -> rusqlite::Result<Connection> {
    let flags =
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(file, flags)?;
    distrust(&connection)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    schema::migrate(&mut connection)?;
    Ok(connection)
}

/// The schema of a record that this program may touch; `None` for an empty file.
pub(crate) fn ours(found: rusqlite::Result<Found>, file: &Path) -> Result<Option<i64>, StoreError> {
    match found.map_err(|source| StoreError::Open { file: file.to_owned(), source })? {
        Found::Foreign => Err(StoreError::NotARecord { file: file.to_owned() }),
        Found::Empty => Ok(None),
        Found::Record(found) if found > schema::VERSION => {
            Err(StoreError::NewerSchema { file: file.to_owned(), expected: schema::VERSION, found })
        }
        Found::Record(found) => Ok(Some(found)),
    }
}

#[cfg(test)]
mod tests {
    use std::error::Error;

    use super::*;

    fn pragma(store: &Store, name: &str) -> String {
        let value = |row: &rusqlite::Row<'_>| row.get::<_, rusqlite::types::Value>(0);
        format!("{:?}", store.connection.turn().pragma_query_value(None, name, value).unwrap())
    }

    #[test]
    fn the_settings_that_durability_rests_on_are_on() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("deep/er")).unwrap();
        for (name, expected) in [
            ("journal_mode", "Text(\"wal\")"),
            // https://sqlite.org/pragma.html#pragma_synchronous: FULL is 2.
            ("synchronous", "Integer(2)"),
            ("foreign_keys", "Integer(1)"),
            ("trusted_schema", "Integer(0)"),
            ("cell_size_check", "Integer(1)"),
            ("busy_timeout", "Integer(5000)"),
            ("user_version", "Integer(7)"),
            ("application_id", "Integer(1399879026)"),
        ] {
            assert_eq!(pragma(&store, name), expected, "{name}");
        }
    }

    #[test]
    fn every_table_is_strict() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let (tables, strict): (i64, i64) = store
            .connection
            .turn()
            .query_row(
                "SELECT count(*), sum(strict) FROM pragma_table_list
                 WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%'",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .unwrap();
        assert_eq!((tables, strict), (15, 15));
    }

    #[test]
    fn a_newer_schema_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        drop(Store::open(folder.path()).unwrap());
        let raw = Connection::open(folder.path().join(RECORD_FILE)).unwrap();
        raw.pragma_update(None, "user_version", 99).unwrap();
        for error in
            [Store::open(folder.path()).unwrap_err(), Store::open_read_only(folder.path()).unwrap_err()]
        {
            assert!(matches!(error, StoreError::NewerSchema { expected: 7, found: 99, .. }), "{error}");
            assert!(error.to_string().contains("newer version") && error.to_string().contains(RECORD_FILE));
        }
        let left: i64 = raw.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
        assert_eq!(left, 99);
    }

    #[test]
    fn another_database_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let raw = Connection::open(folder.path().join(RECORD_FILE)).unwrap();
        raw.execute_batch("CREATE TABLE other (x)").unwrap();
        assert!(matches!(Store::open(folder.path()), Err(StoreError::NotARecord { .. })));
        let mode: String = raw.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(mode, "delete");
    }

    #[test]
    fn a_file_that_is_no_database_is_named() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(
            folder.path().join(RECORD_FILE),
            "not a database, though long enough to look like one".repeat(9),
        )
        .unwrap();
        let error = Store::open(folder.path()).unwrap_err();
        assert!(error.to_string().contains(RECORD_FILE), "{error}");
        assert!(error.source().unwrap().to_string().contains("not a database"), "{error:?}");
    }

    /// A plain file in the way stops even a user who may write anywhere.
    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        fs::write(&file, "").unwrap();
        let error = Store::open(&file.join("data")).unwrap_err();
        assert!(matches!(error, StoreError::CreateFolder { .. }));
        assert!(error.to_string().contains(&file.join("data").display().to_string()), "{error}");
        assert!(error.source().is_some());
    }

    #[test]
    fn reading_makes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let error = Store::open_read_only(folder.path()).unwrap_err();
        assert!(matches!(error, StoreError::NoRecord { .. }), "{error}");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
        drop(Store::open(folder.path()).unwrap());
        let store = Store::open_read_only(folder.path()).unwrap();
        assert!(store.connection.turn().execute("DELETE FROM run", []).is_err());
    }

    #[test]
    fn an_old_sqlite_is_refused() {
        assert!(recent_enough(3_051_003).is_ok());
        let error = recent_enough(3_051_002).unwrap_err();
        assert_eq!(error.to_string(), "expected SQLite 3051003 or newer, found 3051002");
    }
}
