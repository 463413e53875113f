//! Folders and files of the program's own.

use std::path::Path;

use crate::failure::Failure;

/// Makes a folder of the program's own, with those above it.
///
/// # Errors
///
/// [`Failure::File`].
pub fn make_folder(folder: &Path) -> Result<(), Failure> {
    let path = folder.display().to_string();
    std::fs::create_dir_all(folder).map_err(|source| Failure::File {
        action: "make the folder",
        path,
        source,
    })
}

/// Writes a file whole or not at all.
///
/// # Errors
///
/// [`Failure::File`]; what was there before is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failure = |path: &Path| {
        let path = path.display().to_string();
        move |source| Failure::File { action: "write", path, source }
    };
    let part = path.with_extension("part");
    let written = std::fs::write(&part, bytes).and_then(|()| std::fs::rename(&part, path));
    if written.is_err() {
        // What was left of it says nothing; that it cannot be removed either is told by the error itself.
        drop(std::fs::remove_file(&part));
    }
    written.map_err(failure(path))
}
