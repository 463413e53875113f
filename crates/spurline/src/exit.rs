//! Exit statuses: a contract that scripts rely on.

use std::process::ExitCode;

use spurline_record::{Outcome, RunState};
use spurline_sequencer::Ended;

/// How the program ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Everything complies, or the command did what it was asked.
    Good = 0,
    /// Something exceeds its limit; a replay came out otherwise than its run; what was looked for is not there or not as
    /// it should be.
    Exceeds = 1,
    /// Wrong usage or a wrong file; nothing was keyed.
    Usage = 2,
    /// Nothing exceeds, but something is undecided, invalid or without limit.
    Undecided = 3,
    /// The bench failed.
    Bench = 4,
    /// The record could not be kept or read.
    Store = 5,
    /// Someone stopped it.
    Interrupted = 130,
}

impl Exit {
    /// The status for a run that ended so.
    pub(crate) fn of_run(ended: &Ended) -> Self {
        match ended.state {
            RunState::Interrupted => Self::Interrupted,
            RunState::Failed | RunState::Running | RunState::BrokenOff => Self::Bench,
            RunState::Finished => Self::of_readings(ended.outcome, ended.without_limit),
        }
    }

    /// The status for readings of which the worst is this, and so many have no limit.
    pub(crate) fn of_readings(outcome: Option<Outcome>, without_limit: usize) -> Self {
        match outcome.map(|outcome| outcome.of_run_as_seen(without_limit)) {
            Some(Outcome::Complies) => Self::Good,
            Some(Outcome::Exceeds) => Self::Exceeds,
            Some(Outcome::Undecided | Outcome::Invalid | Outcome::NoLimit) | None => Self::Undecided,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
