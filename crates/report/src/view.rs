//! What a report is made from.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use spurline_record::{Event, InstrumentUsed, Issue, Outcome, Reading, RunHeader, RunState};
use thiserror::Error;

/// A run, borrowed from wherever it is kept.
#[derive(Clone, Copy, Debug)]
pub struct RunView<'a> {
    /// What was known when it began.
    pub header: &'a RunHeader,
    /// Where it stands.
    pub state: RunState,
    /// When it ended, if it has.
    pub ended: Option<Timestamp>,
    /// The clock on the wall where it is looked at, beside UTC.
    pub local: Offset,
    /// What it came to.
    pub outcome: Option<Outcome>,
    /// The instruments.
    pub instruments: &'a [InstrumentUsed],
    /// The readings, in order.
    pub readings: &'a [Reading],
    /// What happened, in order.
    pub events: &'a [Event],
    /// What is not in the run itself; `None` where nobody has looked it up.
    pub particulars: Option<&'a Particulars>,
}

/// What a report tells of a run that is not in the run itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Particulars {
    /// What its plan states for reports.
    pub issue: Issue,
    /// The day on which the report is issued, if somebody says so.
    pub issued: Option<Date>,
    /// The head of its chain of hashes, in hexadecimal.
    pub head: Option<String>,
    /// SHA-256 of each of its files, in hexadecimal, in the order of the header's.
    pub digests: Vec<String>,
}

/// Why a report could not be made.
#[derive(Debug, Error)]
pub enum ReportError {
    /// The page could not be filled in.
    #[error("the page could not be filled in")]
    Page(#[from] askama::Error),
    /// The page could not be written.
    #[error("the page could not be written")]
    Write(#[from] std::io::Error),
    /// The document could not be written.
    #[error("the document could not be written")]
    Json(#[from] serde_json::Error),
    /// The table could not be written.
    #[error("the table could not be written")]
    Csv(#[from] csv::Error),
    /// The PDF could not be written.
    #[error("the PDF could not be written: {0}")]
    Pdf(String),
    /// The JUnit document could not be written.
    #[error("the junit document could not be written")]
    Junit(#[from] quick_junit::SerializeError),
}

impl RunView<'_> {
    /// How many readings have an outcome.
    pub(crate) fn count(&self, outcome: Outcome) -> usize {
        self.readings.iter().filter(|reading| reading.outcome == outcome).count()
    }

    /// What it came to, for programs: as long as a run has not gone to its end nothing but that something exceeds is settled.
    #[must_use]
    pub fn settled(&self) -> Option<Outcome> {
        self.outcome.filter(|outcome| self.state == RunState::Finished || *outcome == Outcome::Exceeds)
    }

    /// What it came to, in words: of one that did not go to its end, so far.
    #[must_use]
    pub fn outcome_word(&self) -> String {
        match (self.outcome, self.settled()) {
            (None, _) => "no outcome".to_owned(),
            (Some(outcome), Some(_)) => outcome.of_run_in_words(self.count(Outcome::NoLimit)),
            (Some(outcome), None) => format!("{outcome} so far"),
        }
    }

    /// The sign and the style class of that.
    pub(crate) fn outcome_look(&self) -> (&'static str, &'static str) {
        match (self.outcome, self.settled()) {
            (None, _) => ("–", "soft"),
            (_, Some(settled)) => {
                let seen = settled.of_run_as_seen(self.count(Outcome::NoLimit));
                (crate::figures::sign(seen), crate::figures::class(seen))
            }
            (Some(_), None) => ("?", "unsure"),
        }
    }
}
