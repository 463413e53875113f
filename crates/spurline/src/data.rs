//! Where the record is kept.

use std::path::{Path, PathBuf};

use clap::Args;
use spurline_store::Store;

use crate::talk::Failure;

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

/// A folder named by the environment; an empty value counts as none.
pub(crate) fn environment_folder(name: &str) -> Option<PathBuf> {
    std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from)
}

/// Writes a file whole or not at all.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failure = |action, path: &Path| {
        let path = path.display().to_string();
        move |source| Failure::File { action, path, source }
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(failure("make the folder", folder))?;
    }
    let part = path.with_extension("part");
    std::fs::write(&part, bytes).map_err(failure("write", &part))?;
    std::fs::rename(&part, path).map_err(failure("write", path))
}
