//! Where the record is kept.

use std::path::{Path, PathBuf};

use clap::Args;
use spurline_runner::{LEAST_ROOM, RecordAt, environment_folder, write_whole};
use spurline_store::{Disk, RESERVE, Store};

use crate::talk::{Failure, print, say};

/// Where the record is.
#[derive(Args, Clone, Debug, Default)]
pub(crate) struct DataArgument {
    /// Folder of the record [default: $SPURLINE_DATA, else spurline in $XDG_DATA_HOME]
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

impl DataArgument {
    /// The folder, by argument, environment or custom.
    pub(crate) fn folder(&self) -> Result<PathBuf, Failure> {
        self.data
            .clone()
            .or_else(|| environment_folder("SPURLINE_DATA"))
            .or_else(|| environment_folder("XDG_DATA_HOME").map(|home| home.join("spurline")))
            .or_else(|| environment_folder("HOME").map(|home| home.join(".local/share/spurline")))
            .ok_or_else(|| Failure::Usage {
                message: "there is no folder to keep the record in".to_owned(),
                advice: "say `--data DIR`, or set SPURLINE_DATA".to_owned(),
            })
    }

    /// Opens the record for looking at.
    pub(crate) fn open(&self) -> Result<Store, Failure> {
        Ok(Store::open_read_only(&self.folder()?)?)
    }
}

/// Opens the record in a folder for writing.
pub(crate) fn open_to_write(folder: &Path) -> Result<Store, Failure> {
    Ok(Store::open_on(folder, disk())?)
}

/// Where the record of a run is kept: with room for 256 MB, or as many as `SPURLINE_RESERVE_MB` says, but never less than a
/// key-down needs.
pub(crate) fn record_at(folder: PathBuf) -> Result<RecordAt, Failure> {
    let reserve = match std::env::var("SPURLINE_RESERVE_MB") {
        Ok(text) => {
            let megabytes: u64 = text.parse().map_err(|_| Failure::Usage {
                message: format!("expected a whole number of MB in SPURLINE_RESERVE_MB, found `{text}`"),
                advice: "say for example `SPURLINE_RESERVE_MB=256`, which holds without it".to_owned(),
            })?;
            megabytes.saturating_mul(1_000_000).max(LEAST_ROOM)
        }
        Err(_) => RESERVE,
    };
    Ok(RecordAt { folder, disk: disk(), reserve })
}

/// What kind of disk will do: one of this machine, unless `SPURLINE_DATA_ON_NETWORK` is set.
fn disk() -> Disk {
    let anywhere = environment_folder("SPURLINE_DATA_ON_NETWORK").is_some();
    if anywhere { Disk::Any } else { Disk::OfThisMachine }
}

/// Writes a document to a file, and says so, or to standard output.
pub(crate) fn deliver(document: &[u8], out: Option<&Path>, what: &str) -> Result<(), Failure> {
    let Some(path) = out else { return print(document) };
    write_whole(path, document)?;
    say(&format!("{what} {}", path.display()));
    Ok(())
}
