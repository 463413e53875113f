//! Why a run could not be made, for whoever started it to tell.

use spurline_document::Mistakes;
use spurline_sequencer::RunFault;
use spurline_store::StoreError;
use thiserror::Error;

/// Why a run was not made, or broke off.
#[derive(Debug, Error)]
pub enum Failure {
    /// Files with mistakes.
    #[error("the files have mistakes")]
    Mistakes(#[from] Mistakes),
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
