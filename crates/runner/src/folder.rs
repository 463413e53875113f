//! Folders and files of the program's own.

use std::fs::File;
use std::io::{self, BufWriter, Write};
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
    write_whole_by(path, |out| out.write_all(bytes).map_err(|source| unwritten(path, source)))
}

/// The same of what is written piece by piece.
///
/// # Errors
///
/// [`Failure::File`], and what `write` says; what was there before is as it was.
pub(crate) fn write_whole_by(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let failed = |source| unwritten(path, source);
    let part = path.with_extension("part");
    let put = || {
        let mut out = BufWriter::new(File::create(&part).map_err(failed)?);
        write(&mut out)?;
        out.flush().map_err(failed)?;
        std::fs::rename(&part, path).map_err(failed)
    };
    let written = put();
    if written.is_err() {
        // What was left of it says nothing; that it cannot be removed either is told by the error itself.
        drop(std::fs::remove_file(&part));
    }
    written
}

/// A file that could not be written.
pub(crate) fn unwritten(path: &Path, source: io::Error) -> Failure {
    Failure::File { action: "write", path: path.display().to_string(), source }
}
