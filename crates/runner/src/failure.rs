//! Why a run could not be made, for whoever started it to tell.

use std::io::ErrorKind;

use spurline_document::Mistakes;
use spurline_plan::LoadError;
use spurline_sequencer::RunFault;
use spurline_store::StoreError;
use thiserror::Error;

/// Why a run was not made, or broke off.
#[derive(Debug, Error)]
pub enum Failure {
    /// Files with mistakes.
    #[error("the files have mistakes")]
    Mistakes(#[from] Mistakes),
    /// A plan that cannot be read at all.
    #[error("the plan or bench cannot be read")]
    Load(#[source] LoadError),
    /// What was asked cannot be done so.
    #[error("{message}")]
    Usage {
        /// What.
        message: String,
        /// What to do about it.
        advice: String,
    },
    /// Another process of this kind uses an instrument, or writes a run.
    #[error("{what} is in use by another spurline{}", process.map_or_else(String::new, |id| format!(", process {id}")))]
    InUse {
        /// What, with its name.
        what: String,
        /// Which process, if it could be read.
        process: Option<u32>,
    },
    /// The bench failed.
    #[error("the run could not go on")]
    Run(#[source] RunFault),
    /// The record failed.
    #[error("the record failed")]
    Store(#[from] StoreError),
    /// A report could not be made.
    #[error("the report could not be made")]
    Report(#[from] spurline_report::ReportError),
    /// The simulated bench could not be served.
    #[error("the simulated bench cannot be served")]
    Simulated(#[from] spurline_sim::ServeError),
    /// The runtime could not begin to work.
    #[error("the program could not start its runtime")]
    Runtime(#[source] std::io::Error),
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

/// What to do about files with mistakes.
pub const WHEN_MISTAKEN: &str = "mend the files, then try again";

impl From<LoadError> for Failure {
    fn from(error: LoadError) -> Self {
        match error {
            LoadError::Mistakes(mistakes) => Self::Mistakes(mistakes),
            other @ (LoadError::NoPlan(_) | LoadError::NoBench) => Self::Load(other),
        }
    }
}

impl Failure {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        let advice = match self {
            Self::Usage { advice, .. } => advice,
            Self::Mistakes(_) => WHEN_MISTAKEN,
            Self::Load(error) => return error.advice(),
            Self::InUse { .. } => "wait until it has ended, or stop it; nothing was keyed",
            Self::Run(fault) => return fault.advice().map(str::to_owned),
            Self::Store(error) => error.advice(),
            Self::Report(_) => "the record is whole: please report this with it",
            Self::Simulated(error) => error.advice(),
            Self::Runtime(_) => "the system is out of something: files, memory or processes",
            Self::File { source, .. } if source.kind() == ErrorKind::NotFound => {
                "its folder is not there: make it first, or name a file in one that is"
            }
            Self::File { source, .. } if source.kind() == ErrorKind::IsADirectory => {
                "that is a folder: name a file in it"
            }
            Self::File { action, .. } => {
                return Some(format!("can this user {action} there, and is the disk full?"));
            }
        };
        Some(advice.to_owned())
    }
}
