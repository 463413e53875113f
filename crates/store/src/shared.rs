//! One connection for all of this process that write the same record.
//!
//! SQLite has one writer at a time. Connections that wait for each other do so by asking again and again, in no order,
//! until one of them gives up; and each of them drops its pages whenever another one has written. Behind a lock
//! everybody gets a turn, and the pages stay.

use std::collections::BTreeMap;
use std::ops::Deref;
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError, Weak};

use parking_lot::{ReentrantMutex, ReentrantMutexGuard};
use rusqlite::Connection;

/// What a file is, whatever its path: device and number on it.
type FileId = (u64, u64);

/// Whatever is open for writing.
static OPEN: Mutex<BTreeMap<FileId, Weak<ReentrantMutex<Connection>>>> = Mutex::new(BTreeMap::new());

/// A connection, alone or shared.
#[derive(Clone, Debug)]
pub(crate) struct Shared(Arc<ReentrantMutex<Connection>>);

impl Shared {
    /// One that nobody else has.
    pub(crate) fn alone(connection: Connection) -> Self {
        Self(Arc::new(ReentrantMutex::new(connection)))
    }

    /// The one that this process writes `file` with; `open` makes it where there is none, `still` says of one that is
    /// there already whether it may go on.
    pub(crate) fn of<E>(
        file: &Path,
        open: impl FnOnce() -> Result<Connection, E>,
        still: impl FnOnce(&Connection) -> Result<(), E>,
    ) -> Result<Self, E> {
        // Held while it is being opened: two at once would open two.
        let mut all = OPEN.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|_, connection| connection.strong_count() > 0);
        if let Some(there) = identity(file).and_then(|id| all.get(&id)).and_then(Weak::upgrade) {
            drop(all);
            let there = Self(there);
            still(&there.turn())?;
            return Ok(there);
        }
        let opened = Self::alone(open()?);
        if let Some(id) = identity(file) {
            all.insert(id, Arc::downgrade(&opened.0));
        }
        Ok(opened)
    }

    /// The connection, once it is free. Whoever has it already gets it again: a transaction goes on with it.
    pub(crate) fn turn(&self) -> Turn<'_> {
        Turn(self.0.lock())
    }
}

fn identity(file: &Path) -> Option<FileId> {
    std::fs::metadata(file).ok().map(|file| (file.dev(), file.ino()))
}

/// The connection for as long as this is held.
pub(crate) struct Turn<'a>(ReentrantMutexGuard<'a, Connection>);

impl Deref for Turn<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::open::{RECORD_FILE, Store};
    use crate::specimen::events;

    fn is_one(a: &Store, b: &Store) -> bool {
        Arc::ptr_eq(&a.connection.0, &b.connection.0)
    }

    #[test]
    fn who_writes_the_same_file_shares_and_nobody_else() {
        let folder = tempfile::tempdir().unwrap();
        let (path, other) = (folder.path(), tempfile::tempdir().unwrap());
        let first = Store::open(path).unwrap();
        std::os::unix::fs::symlink(path, other.path().join("link")).unwrap();
        assert!(is_one(&first, &Store::open(&other.path().join("link")).unwrap()));
        assert!(!is_one(&first, &Store::open(other.path()).unwrap()));
        assert!(!is_one(&first, &Store::open_read_only(path).unwrap()));
        // Another file in its place is another record, however it is called.
        for end in ["", "-wal", "-shm"] {
            let name = format!("{RECORD_FILE}{end}");
            std::fs::rename(path.join(&name), other.path().join(format!("away{end}"))).unwrap();
        }
        let second = Store::open(path).unwrap();
        assert!(!is_one(&first, &second));
        assert_eq!(second.count_runs().unwrap(), 0);
    }

    #[test]
    fn one_that_a_newer_program_has_changed_since_is_opened_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let first = Store::open(folder.path()).unwrap();
        first.connection.turn().pragma_update(None, "user_version", 1000).unwrap();
        let refused = Store::open(folder.path()).unwrap_err();
        assert!(matches!(refused, crate::StoreError::NewerSchema { .. }), "{refused:?}");
    }

    #[test]
    fn it_is_closed_with_the_last_of_them() {
        let folder = tempfile::tempdir().unwrap();
        let first = Store::open(folder.path()).unwrap();
        let second = Store::open(folder.path()).unwrap();
        drop(first);
        second.into_recorder().record(&events("r")).unwrap();
        // SQLite takes its log away when the last connection to a file is closed.
        assert!(!folder.path().join(format!("{RECORD_FILE}-wal")).exists());
    }

    #[test]
    fn many_benches_write_side_by_side_and_nothing_is_lost() {
        const BENCHES: usize = 64;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path();
        let write = |run: String| {
            let mut recorder = Store::open(path).unwrap().into_recorder();
            events(&run).iter().try_for_each(|event| recorder.record(std::slice::from_ref(event)))
        };
        let run = |bench: usize| format!("r{bench}");
        std::thread::scope(|scope| {
            let benches: Vec<_> = (0..BENCHES).map(|bench| scope.spawn(move || write(run(bench)))).collect();
            for bench in benches {
                bench.join().unwrap().unwrap();
            }
        });
        let store = Store::open_read_only(path).unwrap();
        assert_eq!(store.count_runs().unwrap(), BENCHES as u64);
        for bench in 0..BENCHES {
            let id = spurline_record::RunId::from_record(run(bench));
            assert!(store.has(&id).unwrap());
            assert_eq!(store.load(&id).unwrap().events.len(), events("r").len());
            store.verify(&id).unwrap().refuse_broken().unwrap();
        }
    }
}
