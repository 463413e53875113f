//! `lockdown`: of a batch of units, where each must be silent and whether it was.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use spurline_report::{Lockdown as Sheet, RunView};

use crate::data::{DataArgument, deliver};
use crate::exit::Exit;
use crate::talk::Failure;

/// Report of a batch of units where each must be silent, and whether it was
///
/// A table over the readings of silence of the runs that are named: unit, firmware, frequency, outcome, the level that
/// nothing exceeds or the one that came, and the day. Ends with 0 if all of them comply, 1 if one exceeds, 3 if nothing
/// exceeds but something is undecided, or a run looked nowhere or did not go to its end.
#[derive(Args, Debug)]
pub(crate) struct Lockdown {
    /// The runs: their names, the beginnings of them, or `last`
    #[arg(required = true)]
    runs: Vec<String>,
    /// What kind of document
    #[arg(long, value_enum, default_value_t = Format::Markdown)]
    format: Format,
    /// The file to write
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    data: DataArgument,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Format {
    /// A table for people
    Markdown,
    /// A table for spreadsheets
    Csv,
    /// A document for programs
    Json,
}

impl Lockdown {
    /// Whether standard output is to be one JSON document.
    pub(crate) fn is_json(&self) -> bool {
        matches!(self.format, Format::Json) && self.out.is_none()
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let mut stored = Vec::new();
        for run in &self.runs {
            stored.push(spurline_runner::load_readings(&store, &store.resolve(run)?)?);
        }
        let views: Vec<RunView<'_>> = stored.iter().map(spurline_runner::view).collect();
        let sheet = Sheet::of(&views);
        let document = match self.format {
            Format::Markdown => sheet.markdown(),
            Format::Csv => sheet.csv()?,
            Format::Json => sheet.json()?,
        };
        deliver(document.as_bytes(), self.out.as_deref(), "lock-down report")?;
        Ok(Exit::of_readings(sheet.outcome, sheet.without_limit))
    }
}
