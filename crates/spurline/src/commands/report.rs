//! `report`: a run as a document.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use spurline_record::RunId;
use spurline_store::{Store, StoredRun};

use crate::data::{DataArgument, deliver};
use crate::exit::Exit;
use crate::talk::Failure;

/// Make a report of a run, on standard output unless told otherwise
#[derive(Args, Debug)]
pub(crate) struct Report {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// What kind of document
    #[arg(long, value_enum, default_value_t = Format::Html)]
    format: Format,
    /// The run as `judge` has judged it again, by the number of that verdict
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    verdict: Option<String>,
    /// The file to write
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    data: DataArgument,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Format {
    /// A page for people
    Html,
    /// A table for spreadsheets: one row for each reading
    Csv,
    /// A document for programs
    Json,
    /// A document for pipelines: only what complies passes
    Junit,
}

impl Report {
    /// Whether standard output is to be one JSON document.
    pub(crate) fn is_json(&self) -> bool {
        matches!(self.format, Format::Json) && self.out.is_none()
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let mut stored = as_judged(&store, &store.resolve(&self.run)?, self.verdict.as_deref())?;
        // The page shows no traces then, and says why.
        let pruned: Vec<String> = stored.prunings.iter().map(super::verify::pruned_words).collect();
        stored.header.notes.extend(pruned);
        let view = spurline_runner::view(&stored);
        let document = match self.format {
            Format::Html => spurline_report::html(&view)?,
            Format::Csv => spurline_report::csv(&view)?,
            Format::Json => spurline_report::json(&view)?,
            Format::Junit => spurline_report::junit(&view)?,
        };
        deliver(&document, self.out.as_deref(), "report")?;
        Ok(Exit::Good)
    }
}

/// A run of the record, or the same as a verdict on it has it.
pub(crate) fn as_judged(store: &Store, run: &RunId, verdict: Option<&str>) -> Result<StoredRun, Failure> {
    let mut stored = spurline_runner::load(store, run)?;
    stored.header.notes.splice(0..0, super::verify::altered(store, run)?);
    let Some(text) = verdict else { return Ok(stored) };
    // A verdict is named by its number, or by the name that `judge` gave it.
    let number = text.strip_prefix(run.as_str()).and_then(|rest| rest.strip_prefix('.')).unwrap_or(text);
    let number = number.parse().map_err(|_| Failure::Usage {
        message: format!("--verdict: expected the number of a verdict, found `{text}`"),
        advice: "`spurline show RUN` lists the verdicts on a run".to_owned(),
    })?;
    Ok(super::judge::View::of(&stored, &store.verdict(run, number)?).into_run())
}
