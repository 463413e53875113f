//! Whether the folder of the record has room for what a run still brings.

use std::path::Path;

/// One key-down brings less than this by far: some hundred sweeps and messages.
pub const LEAST: u64 = 64 << 20;

/// Whether there is room, in words that change only when that does.
///
/// # Errors
///
/// What there is, if it is too little, or why it cannot be known.
pub(crate) fn in_folder(folder: &Path) -> Result<String, String> {
    let found = rustix::fs::statvfs(folder);
    let found = found.map_err(|error| format!("the room in {} is not known: {error}", folder.display()))?;
    enough(folder, found.f_bavail.saturating_mul(found.f_frsize))
}

fn enough(folder: &Path, free: u64) -> Result<String, String> {
    let megabytes = |bytes: u64| bytes >> 20;
    if free < LEAST {
        return Err(format!(
            "{} MB are free in `{}`, the folder of the record, and {} MB must be before the unit is keyed: make room there, \
             `spurline prune --older-than 90d` gives some back",
            megabytes(free),
            folder.display(),
            megabytes(LEAST)
        ));
    }
    Ok(format!("the last event was kept, and more than {} MB are free", megabytes(LEAST)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn little_room_is_told_with_both_figures() {
        let folder = Path::new("/srv/record");
        assert!(enough(folder, LEAST).is_ok());
        let why = enough(folder, 5 << 20).unwrap_err();
        assert!(why.contains("5 MB are free") && why.contains("64 MB"), "{why}");
        assert!(why.contains("`/srv/record`") && why.contains("make room"), "{why}");
        assert!(in_folder(Path::new("/no/such/folder")).unwrap_err().contains("not known"));
    }
}
