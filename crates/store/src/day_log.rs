//! The log of test days: a file of its own beside the record, since it names people. It is only ever added to, each entry
//! is on the disk before it is answered, and a chain of hashes shows whether one was changed or is missing before another.
//! That the last ones were cut off it does not show: nothing follows them.

use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::{Connection, OpenFlags, OptionalExtension, TransactionBehavior, params};
use rustix::fs::{Access, access};
use spurline_record::{DayEntry, DayEvent};
use thiserror::Error;

use crate::chain::{Fields, Hash};
use crate::column::{get_json, get_stamp, json, stamp};
use crate::error::StoreError;
use crate::open::{Disk, as_it_stands, log_of};
use crate::place;

/// The name of the log in the data folder.
pub const DAY_FILE: &str = "days.sqlite";
/// Marks the file as ours: the bytes `SpDy`.
const APPLICATION_ID: i64 = 0x5370_4479;
/// 2: a carrier that stays is among the entries. A log of version 1 is read, and added to as one of version 2.
const VERSION: i64 = 2;
const OLDEST: i64 = 1;
const BUSY: Duration = Duration::from_secs(5);

const TABLES: &str = "
CREATE TABLE entry (
    number  INTEGER PRIMARY KEY,
    day     TEXT NOT NULL,
    at      TEXT NOT NULL,
    event   TEXT NOT NULL,                              -- JSON
    hash    BLOB NOT NULL CHECK (length(hash) = 32)     -- of the hash before and all of this
) STRICT;
CREATE INDEX entry_day ON entry (day, number);
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never changed: add a correction'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never taken out'); END;
";

/// Why the log of test days could not be read or added to.
#[derive(Debug, Error)]
pub enum DayLogError {
    /// The file cannot be used.
    #[error("the log of test days `{}` cannot be {}", file.display(), action)]
    File {
        /// What was tried.
        action: &'static str,
        /// The file.
        file: PathBuf,
        /// Why.
        #[source]
        source: rusqlite::Error,
    },
    /// The file cannot be made.
    #[error("the log of test days `{}` cannot be made", file.display())]
    Make {
        /// The file.
        file: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// Its folder cannot be used.
    #[error("the log of test days has no place")]
    Place(#[source] StoreError),
    /// It is of a later version of the program, or something else.
    #[error("`{}` is no log of test days that this program knows", .0.display())]
    Strange(PathBuf),
    /// An entry was changed, or one is missing before it.
    #[error("the log of test days `{}` is not what was written: entry {number} does not follow the one before", file.display())]
    Broken {
        /// The file.
        file: PathBuf,
        /// The first that is not.
        number: u64,
    },
}

impl DayLogError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> &'static str {
        match self {
            Self::File { .. } => "is the disk full or read-only? what was shown as entered is kept",
            Self::Make { .. } => "name a folder that this user may write to: `--data DIR`",
            Self::Place(error) => error.advice(),
            Self::Strange(_) => {
                "use the newer program, or another folder: `--data DIR`; nothing in it was changed"
            }
            Self::Broken { .. } => {
                "copy the file before anything else; begin a new one in another folder: `--data DIR`"
            }
        }
    }
}

/// The open log.
#[derive(Debug)]
pub struct DayLog {
    connection: Connection,
    file: PathBuf,
}

impl DayLog {
    /// Opens the log in a folder to add to it; makes both where they are missing.
    ///
    /// # Errors
    ///
    /// [`DayLogError`]; one whose chain is broken is not added to.
    pub fn open(folder: &Path, disk: Disk) -> Result<Self, DayLogError> {
        let made = std::fs::create_dir_all(folder)
            .map_err(|source| StoreError::CreateFolder { folder: folder.to_owned(), source });
        made.map_err(DayLogError::Place)?;
        if disk == Disk::OfThisMachine {
            place::refuse_network(folder).map_err(DayLogError::Place)?;
        }
        let file = folder.join(DAY_FILE);
        let new = !file.exists();
        if new {
            private(&file)?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let log = Self::connect(file, flags)?;
        log.lay().map_err(log.failed("opened"))?;
        let version = log.known()?;
        if new {
            place::settle(folder).map_err(DayLogError::Place)?;
        }
        // One whose chain is broken is evidence, and left as it is.
        log.all()?;
        if version < VERSION {
            log.connection.pragma_update(None, "user_version", VERSION).map_err(log.failed("opened"))?;
        }
        Ok(log)
    }

    /// Opens the log in a folder to look at it; `None` if there is none.
    ///
    /// # Errors
    ///
    /// [`DayLogError`].
    pub fn open_read_only(folder: &Path) -> Result<Option<Self>, DayLogError> {
        let file = folder.join(DAY_FILE);
        if !file.exists() {
            return Ok(None);
        }
        let may_write = access(folder, Access::WRITE_OK | Access::EXEC_OK).is_ok()
            && access(&file, Access::WRITE_OK | Access::READ_OK).is_ok();
        Self::to_look(file, may_write).map(Some)
    }

    fn to_look(file: PathBuf, may_write: bool) -> Result<Self, DayLogError> {
        let log = match (log_of(&file), may_write) {
            (Some(_), _) => Self::connect(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?,
            // A handle that only reads would leave an empty journal behind: this one takes away what it made.
            (None, true) => {
                let log = Self::connect(file, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
                log.connection.pragma_update(None, "query_only", true).map_err(log.failed("opened"))?;
                log
            }
            // Nothing may be made beside it: the file is all there is.
            (None, false) => match as_it_stands(&file) {
                Ok(connection) => Self { connection, file },
                Err(source) => return Err(DayLogError::File { action: "opened", file, source }),
            },
        };
        log.known()?;
        Ok(log)
    }

    fn connect(file: PathBuf, flags: OpenFlags) -> Result<Self, DayLogError> {
        let open = || {
            let connection = Connection::open_with_flags(&file, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
            connection.busy_timeout(BUSY)?;
            connection.pragma_update(None, "trusted_schema", false)?;
            connection.pragma_update(None, "cell_size_check", true)?;
            Ok(connection)
        };
        match open() {
            Ok(connection) => Ok(Self { connection, file }),
            Err(source) => Err(DayLogError::File { action: "opened", file, source }),
        }
    }

    /// Makes the table in an empty file; another process may have come first.
    fn lay(&self) -> rusqlite::Result<()> {
        let tables: i64 =
            self.connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        if tables > 0 {
            self.connection.pragma_update(None, "synchronous", "FULL")?;
            return Ok(());
        }
        self.connection.pragma_update(None, "journal_mode", "WAL")?;
        self.connection.pragma_update(None, "synchronous", "FULL")?;
        let begun = rusqlite::Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
        let tables: i64 = begun.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        if tables == 0 {
            begun.execute_batch(TABLES)?;
            begun.pragma_update(None, "application_id", APPLICATION_ID)?;
            begun.pragma_update(None, "user_version", VERSION)?;
        }
        begun.commit()
    }

    /// The version of the file, if this program reads it.
    fn known(&self) -> Result<i64, DayLogError> {
        let number = |pragma| self.connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
        let found = number("application_id").and_then(|id| Ok((id, number("user_version")?)));
        match found.map_err(self.failed("read"))? {
            (APPLICATION_ID, version @ OLDEST..=VERSION) => Ok(version),
            _ => Err(DayLogError::Strange(self.file.clone())),
        }
    }

    fn failed(&self, action: &'static str) -> impl FnOnce(rusqlite::Error) -> DayLogError + use<> {
        let file = self.file.clone();
        move |source| DayLogError::File { action, file, source }
    }

    /// Adds an entry. `Ok` means that it is on the disk.
    ///
    /// # Errors
    ///
    /// [`DayLogError`]; then it is not known whether it is.
    pub fn append(&self, day: &str, at: Timestamp, event: DayEvent) -> Result<DayEntry, DayLogError> {
        let write = || {
            let begun =
                rusqlite::Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
            let last: Option<(i64, Hash)> = begun
                .prepare_cached("SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1")?
                .query_row([], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            let (before, link) = last.unwrap_or((0, Hash::ORIGIN));
            let (number, at_text, text) = (before + 1, stamp(at), json(&event)?);
            let hash = linked(link, number, day, &at_text, &text);
            begun
                .prepare_cached(
                    "INSERT INTO entry (number, day, at, event, hash) VALUES (?1, ?2, ?3, ?4, ?5)",
                )?
                .execute(params![number, day, at_text, text, hash])?;
            begun.commit()?;
            Ok(number as u64)
        };
        let number = write().map_err(self.failed("added to"))?;
        Ok(DayEntry { number, day: day.to_owned(), at, event })
    }

    /// The entries of a day, in their order.
    ///
    /// # Errors
    ///
    /// [`DayLogError::Broken`] if anything in the log is not what was written.
    pub fn entries(&self, day: &str) -> Result<Vec<DayEntry>, DayLogError> {
        let mut entries = self.all()?;
        entries.retain(|entry| entry.day == day);
        Ok(entries)
    }

    /// The days that have entries, in their order.
    ///
    /// # Errors
    ///
    /// [`DayLogError`].
    pub fn days(&self) -> Result<Vec<String>, DayLogError> {
        let mut days: Vec<String> = Vec::new();
        for entry in self.all()? {
            if !days.contains(&entry.day) {
                days.push(entry.day);
            }
        }
        Ok(days)
    }

    /// All entries, with their chain checked; whether others followed the last one it cannot tell.
    ///
    /// # Errors
    ///
    /// [`DayLogError`].
    pub fn all(&self) -> Result<Vec<DayEntry>, DayLogError> {
        let read = || {
            let mut statement = self
                .connection
                .prepare_cached("SELECT number, day, at, event, hash FROM entry ORDER BY number")?;
            let rows = statement.query_map([], |row| {
                let (at, text): (String, String) = (row.get(2)?, row.get(3)?);
                let entry = DayEntry {
                    number: row.get::<_, i64>(0)? as u64,
                    day: row.get(1)?,
                    at: get_stamp(row, 2)?,
                    event: get_json(row, 3)?,
                };
                Ok((entry, at, text, row.get::<_, Hash>(4)?))
            })?;
            rows.collect::<rusqlite::Result<Vec<_>>>()
        };
        let mut link = Hash::ORIGIN;
        let mut entries = Vec::new();
        for (place, (entry, at, text, hash)) in read().map_err(self.failed("read"))?.into_iter().enumerate() {
            let expected = linked(link, entry.number as i64, &entry.day, &at, &text);
            if entry.number != place as u64 + 1 || hash != expected {
                return Err(DayLogError::Broken { file: self.file.clone(), number: entry.number });
            }
            link = hash;
            entries.push(entry);
        }
        Ok(entries)
    }
}

/// Makes an empty file that nobody else reads: it names people. What stands beside it while it is open has its rights.
fn private(file: &Path) -> Result<(), DayLogError> {
    match OpenOptions::new().write(true).create_new(true).mode(0o600).open(file) {
        // Another process may have come first.
        Err(source) if source.kind() != ErrorKind::AlreadyExists => {
            Err(DayLogError::Make { file: file.to_owned(), source })
        }
        Ok(_) | Err(_) => Ok(()),
    }
}

/// The hash of an entry that follows another one; the fields are those of the chain of a run.
fn linked(before: Hash, number: i64, day: &str, at: &str, event: &str) -> Hash {
    let mut fields = Fields::new("spurline day 1");
    fields.bytes(&before.0);
    fields.text(number.to_string().as_bytes());
    fields.text(day.as_bytes());
    fields.text(at.as_bytes());
    fields.text(event.as_bytes());
    fields.hash()
}

#[cfg(test)]
mod tests {
    use spurline_record::Label;

    use super::*;
    use crate::specimen::at;

    fn came(visit: u32) -> DayEvent {
        let label = Label { tag: Some(format!("T-{visit}")), ..Label::default() };
        DayEvent::Came { visit, label, reference: false }
    }

    #[test]
    fn entries_come_back_in_their_order_and_by_day() {
        let folder = tempfile::tempdir().unwrap();
        assert!(DayLog::open_read_only(folder.path()).unwrap().is_none());
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        for (day, visit) in [("one", 1), ("two", 1), ("one", 2)] {
            log.append(day, at(i64::from(visit)), came(visit)).unwrap();
        }
        // Another one reads while this one is open, and after it was dropped without a word.
        let reader = DayLog::open_read_only(folder.path()).unwrap().unwrap();
        let of_one: Vec<_> = reader.entries("one").unwrap().into_iter().map(|entry| entry.event).collect();
        assert_eq!(of_one, [came(1), came(2)]);
        assert_eq!(reader.days().unwrap(), ["one", "two"]);
        drop(log);
        assert_eq!(DayLog::open(folder.path(), Disk::Any).unwrap().all().unwrap().len(), 3);
    }

    /// Who may not write beside the log looks at it all the same, and leaves nothing there.
    #[test]
    fn a_look_needs_no_right_to_write() {
        let folder = tempfile::tempdir().unwrap();
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        log.append("one", at(1), came(1)).unwrap();
        drop(log);
        let names = || {
            let files = std::fs::read_dir(folder.path()).unwrap();
            files.map(|file| file.unwrap().file_name()).collect::<Vec<_>>()
        };
        for may_write in [false, true] {
            let looking = DayLog::to_look(folder.path().join(DAY_FILE), may_write).unwrap();
            assert_eq!(looking.all().unwrap().len(), 1);
            assert!(looking.append("one", at(2), came(2)).is_err());
            drop(looking);
            assert_eq!(names(), [DAY_FILE], "{may_write}");
        }
    }

    /// What an older version of the program wrote is read, and marked as of this one once it is added to.
    #[test]
    fn a_log_of_the_version_before_goes_on() {
        let folder = tempfile::tempdir().unwrap();
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        log.append("one", at(1), came(1)).unwrap();
        log.connection.pragma_update(None, "user_version", OLDEST).unwrap();
        drop(log);
        assert_eq!(DayLog::open_read_only(folder.path()).unwrap().unwrap().all().unwrap().len(), 1);
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        log.append("one", at(2), DayEvent::Gone).unwrap();
        let version: i64 = log.connection.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
        assert_eq!((version, log.all().unwrap().len()), (VERSION, 2));
        log.connection.pragma_update(None, "user_version", VERSION + 1).unwrap();
        drop(log);
        assert!(matches!(DayLog::open(folder.path(), Disk::Any), Err(DayLogError::Strange(_))));
    }

    #[test]
    fn nobody_else_reads_it() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        log.append("one", at(1), came(1)).unwrap();
        let files: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(Result::unwrap).collect();
        assert!(files.len() >= 2, "the log, and what is not yet in it: {files:?}");
        for file in files {
            assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{file:?}");
        }
    }

    #[test]
    fn nothing_is_changed_or_taken_out() {
        let folder = tempfile::tempdir().unwrap();
        let log = DayLog::open(folder.path(), Disk::Any).unwrap();
        log.append("one", at(1), came(1)).unwrap();
        log.append("one", at(2), came(2)).unwrap();
        for forbidden in ["UPDATE entry SET day = 'two'", "DELETE FROM entry"] {
            let refused = log.connection.execute(forbidden, []).unwrap_err();
            assert!(refused.to_string().contains("never"), "{refused}");
        }
        // Whoever takes the guard away is found out by the chain.
        for tampering in
            ["UPDATE entry SET day = 'two' WHERE number = 1", "DELETE FROM entry WHERE number = 1"]
        {
            let folder = tempfile::tempdir().unwrap();
            let log = DayLog::open(folder.path(), Disk::Any).unwrap();
            log.append("one", at(1), came(1)).unwrap();
            log.append("one", at(2), came(2)).unwrap();
            let guards = "DROP TRIGGER entry_stays; DROP TRIGGER entry_kept";
            log.connection.execute_batch(&format!("{guards}; {tampering}")).unwrap();
            log.connection.pragma_update(None, "user_version", OLDEST).unwrap();
            assert!(matches!(log.all(), Err(DayLogError::Broken { number: 1 | 2, .. })), "{tampering}");
            drop(log);
            assert!(matches!(DayLog::open(folder.path(), Disk::Any), Err(DayLogError::Broken { .. })));
            let log = DayLog::open_read_only(folder.path()).unwrap().unwrap();
            assert_eq!(log.known().unwrap(), OLDEST, "what may be evidence is left as it is");
        }
    }

    #[test]
    fn another_file_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let other = Connection::open(folder.path().join(DAY_FILE)).unwrap();
        other.execute_batch("CREATE TABLE other (x)").unwrap();
        assert!(matches!(DayLog::open(folder.path(), Disk::Any), Err(DayLogError::Strange(_))));
    }
}
