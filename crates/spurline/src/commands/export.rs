//! `export` and `import`: one run in a file of its own, and into another record.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::talk::{Failure, print_json, say};

/// Write a run, all of it, to a file of its own, to be kept elsewhere or sent
#[derive(Args, Debug)]
pub(crate) struct Export {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// The file to write; none is written over
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Export {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let run = store.resolve(&self.run)?;
        store.export(&run, &self.out)?;
        if self.json {
            print_json(&json!({ "run": run, "file": self.out }))?;
        } else {
            say(&format!("run {run} written to {}", self.out.display()));
        }
        Ok(Exit::Good)
    }
}

/// Take the run of an exported file into the record
///
/// The chain is verified before anything is taken. A run that is here already is left as it is; another run of the same
/// name is refused.
#[derive(Args, Debug)]
pub(crate) struct Import {
    /// The file that `export` wrote
    file: PathBuf,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Import {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let taken = open_to_write(&self.data.folder()?)?.import(&self.file)?;
        if self.json {
            print_json(&json!({ "run": taken.run, "head": taken.head, "new": taken.new }))?;
        } else if taken.new {
            say(&format!("run {} taken in, head {}", taken.run, taken.head));
        } else {
            say(&format!("run {} is here already, the same", taken.run));
        }
        Ok(Exit::Good)
    }
}
