//! `export` and `import`: one run in a file of its own, and into another record.

use std::fs::File;
use std::io::Read;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use spurline_store::{Incoming, Prunable, Pruned};

use crate::data::{DataArgument, open_to_write};
use crate::exit::Exit;
use crate::talk::{Failure, counted, print_json, say};

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
        self.may_be_written()?;
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

impl Export {
    /// Before the record is looked at: whether the file can come about.
    fn may_be_written(&self) -> Result<(), Failure> {
        let shown = self.out.display();
        let usage =
            |message: String, advice: &str| Err(Failure::Usage { message, advice: advice.to_owned() });
        if self.out.as_os_str().as_encoded_bytes().ends_with(b"/") || self.out.is_dir() {
            return usage(
                format!("--out: expected a file, found the folder `{shown}`"),
                "name the file in it, for example `run.sqlite`",
            );
        }
        match self.out.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            Some(folder) if !folder.is_dir() => usage(
                format!("--out: there is no folder `{}` for `{shown}`", folder.display()),
                "make the folder first, or name a file in one that is there",
            ),
            _ => Ok(()),
        }
    }
}

/// Take the run of an exported file into the record
///
/// The chain is verified before anything is taken. Of a run that is here already only verdicts and signatures are taken
/// that were made since; another run or signature of the same name is refused, and a verdict whose number another one has
/// here gets the next.
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
        // Looked at first: what is refused must not make a record where there is none.
        self.may_be_an_export()?;
        let incoming = Incoming::of(&self.file)?;
        let taken = open_to_write(&self.data.folder()?)?.take_in(&incoming)?;
        let differs: Vec<_> = taken.differs.iter().map(words).collect();
        if self.json {
            print_json(&json!({
                "run": taken.run, "head": taken.head, "new": taken.new, "verdicts": taken.verdicts,
                "signatures": taken.signatures, "renumbered": taken.renumbered, "differs": differs,
            }))?;
            return Ok(Exit::Good);
        }
        let with = [(taken.verdicts as usize, "verdict"), (taken.signatures as usize, "signature")];
        let with: Vec<String> = with
            .into_iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, what)| counted(count, what))
            .collect();
        say(&match (taken.new, with.is_empty()) {
            (true, true) => format!("run {} taken in, head {}", taken.run, taken.head),
            (true, false) => {
                format!("run {} taken in with {}, head {}", taken.run, with.join(" and "), taken.head)
            }
            (false, true) => format!("run {} is here already, the same; nothing was taken", taken.run),
            (false, false) => {
                format!("run {} is here already; taken in that is new: {}", taken.run, with.join(" and "))
            }
        });
        for (there, here) in &taken.renumbered {
            say(&format!("verdict {there} of the file is verdict {here} here: another one had that number"));
        }
        differs.iter().for_each(|words| say(words));
        Ok(Exit::Good)
    }
}

/// With this every export begins: an SQLite database file (SQLite file format, section 1.3).
const BEGINNING: &[u8; 16] = b"SQLite format 3\0";

impl Import {
    /// A file of another kind is a slip on the command line, and no export that was damaged. What cannot be read is told by
    /// whoever reads it.
    fn may_be_an_export(&self) -> Result<(), Failure> {
        let Ok(mut file) = File::open(&self.file) else { return Ok(()) };
        let mut begins = Vec::new();
        if file.by_ref().take(BEGINNING.len() as u64).read_to_end(&mut begins).is_err() || begins == BEGINNING
        {
            return Ok(());
        }
        Err(Failure::Usage {
            message: format!("`{}` is no file that `spurline export` wrote", self.file.display()),
            advice: "`spurline export RUN --out FILE` writes one, where the run was made; reports cannot be taken in".to_owned(),
        })
    }
}

/// What is on one side only, in words.
fn words(pruned: &Pruned) -> String {
    let what = match pruned.what {
        Prunable::Sweeps => "the levels of its sweeps",
        Prunable::Transcript => "the messages of its links",
    };
    if pruned.here {
        format!("{what} were pruned here and are in the file: they are not taken back in")
    } else {
        format!("{what} were pruned in the file and are here: they stay")
    }
}
