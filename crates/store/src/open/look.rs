//! Opening a record to look at it: nothing is written into it, and nothing is left beside it.

use std::path::Path;

use rusqlite::{Connection, ErrorCode, OpenFlags};
use rustix::fs::{Access, access};

use super::{as_it_stands, distrust, log_of};
use crate::error::StoreError;

/// How a record is opened by who only looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// There is a log with something in it: it is read with the file, and stays for a writer to bring back.
    WithLog,
    /// There is none. A handle that only reads would make an empty one and leave it there; one that may write takes away
    /// what it made, and is told to change nothing.
    Tidy,
    /// There is none, and none may be made beside it: the file is all there is.
    AsItStands,
}

impl Way {
    /// A writer of another user may begin right after this was chosen, and then what is read may be torn: it is told by
    /// SQLite's checks or the chain, and the next look sees the log.
    fn choose(has_log: bool, may_write: bool) -> Self {
        match (has_log, may_write) {
            (true, _) => Self::WithLog,
            (false, true) => Self::Tidy,
            (false, false) => Self::AsItStands,
        }
    }
}

pub(super) fn connect(file: &Path) -> Result<Connection, StoreError> {
    let folder = file.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new("."));
    let may_write = access(folder, Access::WRITE_OK | Access::EXEC_OK).is_ok()
        && access(file, Access::WRITE_OK | Access::READ_OK).is_ok();
    let log = log_of(file);
    let opened = match Way::choose(log.is_some(), may_write) {
        Way::WithLog => with_log(file),
        // Without room for what SQLite makes beside it, the file is all there is as well.
        Way::Tidy => {
            tidy(file).or_else(|error| if has_no_room(&error) { as_it_stands(file) } else { Err(error) })
        }
        Way::AsItStands => as_it_stands(file),
    };
    opened.map_err(|source| match log {
        // SQLite needs an index of the log beside it, and may make none there.
        Some(log) if !may_write && cannot_open(&source) => StoreError::LogLocked { log, source },
        _ => StoreError::Open { file: file.to_owned(), source },
    })
}

/// Whether an error may be that of a full disk: SQLite tells of one that it meets while it opens a file as of any that fails.
pub(crate) fn has_no_room(error: &rusqlite::Error) -> bool {
    matches!(error.sqlite_error_code(), Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure))
}

fn cannot_open(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied)
    )
}

fn with_log(file: &Path) -> rusqlite::Result<Connection> {
    let connection = open(file, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    // Whoever writes brings the log back into the file: nobody else.
    connection.pragma_update(None, "wal_autocheckpoint", 0)?;
    touched(connection)
}

fn tidy(file: &Path) -> rusqlite::Result<Connection> {
    let connection = open(file, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    connection.pragma_update(None, "query_only", true)?;
    connection.pragma_update(None, "wal_autocheckpoint", 0)?;
    touched(connection)
}

fn open(file: &Path, flags: OpenFlags) -> rusqlite::Result<Connection> {
    let connection = Connection::open_with_flags(file, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    distrust(&connection)?;
    Ok(connection)
}

/// A file is opened in truth by the first question: where the log cannot be read, that is found out here.
fn touched(connection: Connection) -> rusqlite::Result<Connection> {
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
    Ok(connection)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::open::{RECORD_FILE, Store};
    use crate::specimen::events;

    #[test]
    fn the_way_follows_from_log_and_rights() {
        assert_eq!(Way::choose(true, true), Way::WithLog);
        assert_eq!(Way::choose(true, false), Way::WithLog);
        assert_eq!(Way::choose(false, true), Way::Tidy);
        assert_eq!(Way::choose(false, false), Way::AsItStands);
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_look_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        Store::open(folder.path()).unwrap().into_recorder().record(&events("r")).unwrap();
        assert_eq!(names(folder.path()), [RECORD_FILE]);
        let before = fs::read(folder.path().join(RECORD_FILE)).unwrap();
        let store = Store::open_read_only(folder.path()).unwrap();
        assert_eq!(store.runs().unwrap().len(), 1);
        assert!(store.connection.turn().execute("DELETE FROM event", []).is_err());
        drop(store);
        assert_eq!(names(folder.path()), [RECORD_FILE]);
        assert!(fs::read(folder.path().join(RECORD_FILE)).unwrap() == before);
    }

    #[test]
    fn a_look_while_somebody_writes_leaves_the_log_alone() {
        let folder = tempfile::tempdir().unwrap();
        let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
        recorder.record(&events("r")[..3]).unwrap();
        let beside = names(folder.path());
        let log = folder.path().join(format!("{RECORD_FILE}-wal"));
        let length = fs::metadata(&log).unwrap().len();
        let looking = Store::open_read_only(folder.path()).unwrap();
        assert_eq!(looking.runs().unwrap().len(), 1);
        recorder.record(&events("r")[3..5]).unwrap();
        drop(looking);
        assert_eq!(names(folder.path()), beside);
        assert!(fs::metadata(&log).unwrap().len() >= length);
        recorder.record(&events("r")[5..]).unwrap();
    }
}
