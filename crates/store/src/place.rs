//! Where a record may be: on a disk of this machine, with room left on it.

use std::fs;
use std::path::Path;

use crate::error::StoreError;
use crate::open::Store;

/// So much must be free before a run starts, unless told otherwise: 256 MB.
pub const RESERVE: u64 = 256_000_000;

/// File systems on which another machine has a part in writes and locks, by the number that Linux gives each
/// (`statfs(2)`).
const NETWORK: [(u64, &str); 10] = [
    (0x6969, "NFS"),
    (0x517b, "SMB"),
    (0xff53_4d42, "CIFS"),
    (0xfe53_4d42, "SMB 2"),
    (0x0102_1997, "9p"),
    (0x6573_5546, "FUSE"),
    (0x00c3_6400, "Ceph"),
    (0x5346_414f, "AFS"),
    (0x7375_7245, "Coda"),
    (0x0bd0_0bd0, "Lustre"),
];

/// The name of a file system on which no record is written.
fn network(kind: u64) -> Option<&'static str> {
    // Some are negative as the signed word that some machines have: the lower 32 bits tell.
    NETWORK.iter().find(|(known, _)| *known == kind & 0xffff_ffff).map(|(_, name)| *name)
}

/// Refuses a folder on a network file system.
pub(crate) fn refuse_network(folder: &Path) -> Result<(), StoreError> {
    let found = rustix::fs::statfs(folder).map_err(|error| unread(folder, error.into()))?;
    match network(found.f_type as u64) {
        Some(kind) => Err(StoreError::OnNetwork { folder: folder.to_owned(), kind }),
        None => Ok(()),
    }
}

/// What this user may still write there, in bytes.
pub(crate) fn free(folder: &Path) -> Result<u64, StoreError> {
    let found = rustix::fs::statvfs(folder).map_err(|error| unread(folder, error.into()))?;
    Ok(found.f_bavail.saturating_mul(found.f_frsize))
}

/// Makes the names in a folder as lasting as what is in its files.
pub(crate) fn settle(folder: &Path) -> Result<(), StoreError> {
    fs::File::open(folder).and_then(|folder| folder.sync_all()).map_err(|source| StoreError::Place {
        action: "settle",
        place: folder.to_owned(),
        source,
    })
}

fn unread(folder: &Path, source: std::io::Error) -> StoreError {
    StoreError::Place { action: "look at", place: folder.to_owned(), source }
}

impl Store {
    /// Refuses to go on with less than so many bytes free where the record is.
    ///
    /// # Errors
    ///
    /// If there is less, or it cannot be found out.
    pub fn refuse_without_room(&self, reserve: u64) -> Result<(), StoreError> {
        let folder = self.file.parent().unwrap_or(Path::new("."));
        let found = free(folder)?;
        if found < reserve {
            return Err(StoreError::NoRoom { folder: folder.to_owned(), expected: reserve, found });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_systems_of_other_machines_are_known() {
        assert_eq!(network(0x6969), Some("NFS"));
        assert_eq!(network(0xffff_ffff_ff53_4d42), Some("CIFS"), "as a negative word");
        // ext4, XFS, Btrfs, tmpfs, overlay, ZFS: of this machine.
        for own in [0xef53, 0x5846_5342, 0x9123_683e, 0x0102_1994, 0x794c_7630, 0x2fc1_2fc1] {
            assert_eq!(network(own), None, "{own:x}");
        }
        assert!(refuse_network(&std::env::temp_dir()).is_ok());
    }

    #[test]
    fn the_room_is_told_in_figures() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        store.refuse_without_room(1).unwrap();
        let error = store.refuse_without_room(u64::MAX).unwrap_err();
        let text = error.to_string();
        assert!(text.starts_with("expected at least 18446744073710 MB free in `"), "{text}");
        assert!(text.contains(", found "), "{text}");
    }
}
