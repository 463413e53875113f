//! The forms that a report of a run comes in, and how each is made: whoever asks for one names it, and gets bytes.

use crate::pdf::Paper;
use crate::view::{ReportError, RunView};

/// A form of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// A page for people.
    Html,
    /// A table for spreadsheets.
    Csv,
    /// A document for programs.
    Json,
    /// A document for pipelines.
    Junit,
    /// A test report that can be handed on.
    Pdf,
    /// What does not comply, for a comment in a pipeline.
    Markdown,
}

impl Format {
    /// Every form.
    pub const ALL: [Self; 6] = [Self::Html, Self::Csv, Self::Json, Self::Junit, Self::Pdf, Self::Markdown];

    /// Makes the report of a run. The size of the sheets is of a PDF alone.
    ///
    /// # Errors
    ///
    /// [`ReportError`].
    pub fn report(self, view: &RunView<'_>, paper: Paper) -> Result<Vec<u8>, ReportError> {
        Ok(match self {
            Self::Html => crate::html(view)?.into_bytes(),
            Self::Csv => crate::csv(view)?.into_bytes(),
            Self::Json => crate::json(view)?.into_bytes(),
            Self::Junit => crate::junit(view)?.into_bytes(),
            Self::Pdf => crate::pdf(view, paper)?,
            Self::Markdown => crate::markdown(view).into_bytes(),
        })
    }

    /// Whether it shows traces, so that a run without them will not do.
    #[must_use]
    pub const fn shows_traces(self) -> bool {
        matches!(self, Self::Html | Self::Pdf)
    }

    /// What it is, as the protocols of the web say.
    #[must_use]
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Html => "text/html; charset=utf-8",
            Self::Csv => "text/csv; charset=utf-8",
            Self::Json => "application/json",
            Self::Junit => "application/xml",
            Self::Pdf => "application/pdf",
            Self::Markdown => "text/markdown; charset=utf-8",
        }
    }

    /// How the name of its file ends, without the dot.
    #[must_use]
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Html => "html",
            Self::Csv => "csv",
            Self::Json => "json",
            Self::Junit => "xml",
            Self::Pdf => "pdf",
            Self::Markdown => "md",
        }
    }
}
