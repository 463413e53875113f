//! `report`: a run as a document.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use spurline_record::RunId;
use spurline_report::Paper;
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
    #[arg(long, visible_alias = "output", value_name = "FILE")]
    out: Option<PathBuf>,
    /// The size of the sheets of a PDF
    #[arg(long, value_enum, default_value_t = PaperSize::A4)]
    paper: PaperSize,
    /// The day on which the report is issued, as year, month and day: `2026-12-01`
    #[arg(long, value_name = "DATE")]
    issued: Option<String>,
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
    /// A test report that can be handed on
    Pdf,
    /// What does not comply, for a comment in a pipeline
    Markdown,
}

impl From<Format> for spurline_report::Format {
    fn from(format: Format) -> Self {
        match format {
            Format::Html => Self::Html,
            Format::Csv => Self::Csv,
            Format::Json => Self::Json,
            Format::Junit => Self::Junit,
            Format::Pdf => Self::Pdf,
            Format::Markdown => Self::Markdown,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum PaperSize {
    /// ISO A4
    A4,
    /// North American letter
    Letter,
}

impl From<PaperSize> for Paper {
    fn from(size: PaperSize) -> Self {
        match size {
            PaperSize::A4 => Self::A4,
            PaperSize::Letter => Self::Letter,
        }
    }
}

impl Report {
    /// Whether standard output is to be one JSON document.
    pub(crate) fn is_json(&self) -> bool {
        matches!(self.format, Format::Json) && self.out.is_none()
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        if matches!(self.format, Format::Pdf) && self.out.is_none() {
            not_to_a_terminal()?;
        }
        let store = self.data.open()?;
        let run = store.resolve(&self.run)?;
        // What is handed on is what was recorded, or nothing.
        store.refuse_broken(&run)?;
        let mut stored = as_judged(&store, &run, self.verdict.as_deref())?;
        // The page shows no traces then, and says why.
        let pruned: Vec<String> = stored.prunings.iter().map(super::verify::pruned_words).collect();
        stored.header.notes.extend(pruned);
        let particulars = spurline_runner::particulars(&store, &stored, self.issued()?)?;
        let view = spurline_runner::view_with(&stored, &particulars);
        let document = spurline_report::Format::from(self.format).report(&view, self.paper.into())?;
        deliver(&document, self.out.as_deref(), "report")?;
        Ok(Exit::Good)
    }
}

impl Report {
    fn issued(&self) -> Result<Option<Date>, Failure> {
        let Some(text) = &self.issued else { return Ok(None) };
        text.parse().map(Some).map_err(|_| Failure::Usage {
            message: format!("--issued: expected a day as year, month and day, found `{text}`"),
            advice: "say for example `--issued 2026-12-01`".to_owned(),
        })
    }
}

/// Nobody can read a PDF on a terminal, and what it does to one is anybody's guess.
pub(crate) fn not_to_a_terminal() -> Result<(), Failure> {
    if !std::io::stdout().is_terminal() {
        return Ok(());
    }
    Err(Failure::Usage {
        message: "a PDF is no text for a terminal".to_owned(),
        advice: "name a file: `--out FILE.pdf`".to_owned(),
    })
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
