//! What is said to a person: one grammar and one renderer for everything that went wrong.

use std::error::Error;
use std::io::{IsTerminal, Write};

use spurline_document::{Mistakes, Style};
use spurline_plan::LoadError;
use spurline_sequencer::RunFault;
use thiserror::Error as ThisError;

use crate::exit::Exit;

/// Why a command did not do what it was asked.
#[derive(Debug, ThisError)]
pub(crate) enum Failure {
    /// Files with mistakes.
    #[error("the files have mistakes")]
    Mistakes(#[from] Mistakes),
    /// A plan that cannot be read at all.
    #[error("the plan cannot be read")]
    Load(#[source] LoadError),
    /// Something on the command line is not right.
    #[error("{message}")]
    Usage {
        /// What.
        message: String,
        /// What to do about it.
        advice: String,
    },
    /// The bench failed.
    #[error("the run could not go on")]
    Run(#[source] RunFault),
    /// The record failed.
    #[error("the record failed")]
    Store(#[from] spurline_store::StoreError),
    /// A report could not be made.
    #[error("the report could not be made")]
    Report(#[from] spurline_report::ReportError),
    /// The simulated bench could not be served.
    #[error("the simulated bench cannot be served")]
    Simulated(#[from] spurline_sim::ServeError),
    /// Reading or writing failed.
    #[error("cannot {action} {path}")]
    File {
        /// What was tried.
        action: &'static str,
        /// Where.
        path: String,
        /// Why.
        #[source]
        source: std::io::Error,
    },
}

impl From<LoadError> for Failure {
    fn from(error: LoadError) -> Self {
        match error {
            LoadError::Mistakes(mistakes) => Self::Mistakes(mistakes),
            other @ (LoadError::NoPlan(_) | LoadError::NoBench) => Self::Load(other),
        }
    }
}

impl Failure {
    fn exit(&self) -> Exit {
        match self {
            Self::Mistakes(_) | Self::Load(_) | Self::Usage { .. } => Exit::Usage,
            Self::Run(RunFault::Record(_)) | Self::Store(_) => Exit::Store,
            Self::Run(_) | Self::Simulated(_) => Exit::Bench,
            Self::Report(_) | Self::File { .. } => Exit::Store,
        }
    }

    fn advice(&self) -> Option<String> {
        match self {
            Self::Load(error) => error.advice(),
            Self::Usage { advice, .. } => Some(advice.clone()),
            Self::Run(fault) => fault.advice().map(str::to_owned),
            Self::Mistakes(_) | Self::Store(_) | Self::Report(_) | Self::Simulated(_) | Self::File { .. } => {
                None
            }
        }
    }
}

/// Prints a failure with its causes and advice, and says how the program ends.
pub(crate) fn report(failure: &Failure) -> Exit {
    let mut text = String::new();
    match failure {
        Failure::Mistakes(mistakes) => text.push_str(&mistakes.render(style())),
        other => {
            text.push_str(&format!("error: {other}"));
            for cause in std::iter::successors(other.source(), |&cause| cause.source()) {
                text.push_str(&format!("\n  because: {cause}"));
            }
            if let Some(advice) = other.advice() {
                text.push_str(&format!("\n  help: {advice}"));
            }
        }
    }
    say(&text);
    failure.exit()
}

/// The width that everything printed for people keeps to.
pub(crate) const WIDTH: usize = 80;

/// A paragraph in lines of at most 80 columns; all but the first begin `indent` columns in.
pub(crate) fn wrapped(text: &str, indent: usize) -> String {
    let indent = " ".repeat(indent);
    textwrap::fill(text, textwrap::Options::new(WIDTH).subsequent_indent(&indent))
}

/// `1 reading`, `2 readings`.
pub(crate) fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// Prints talk on standard error. A closed pipe is nobody's fault.
pub(crate) fn say(text: &str) {
    let mut stream = std::io::stderr().lock();
    drop(writeln!(stream, "{text}"));
}

/// Prints data on standard output. A closed pipe ends quietly.
pub(crate) fn print(bytes: &[u8]) {
    let mut stream = std::io::stdout().lock();
    drop(stream.write_all(bytes).and_then(|()| stream.flush()));
}

/// Prints one JSON document and nothing else.
pub(crate) fn print_json(value: &serde_json::Value) {
    print(format!("{value:#}\n").as_bytes());
}

/// Whether messages may be coloured: on a terminal, unless `NO_COLOR` is set.
pub(crate) fn style() -> Style {
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if std::io::stderr().is_terminal() && !plain { Style::Coloured } else { Style::Plain }
}
