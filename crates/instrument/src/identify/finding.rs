//! What became of one command.

use std::fmt;
use std::time::Duration;

use spurline_scpi::{ErrorClass, InstrumentError};

/// One command that was tried, or not, and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Its key in the profile.
    pub command: &'static str,
    /// What was sent, or would have been.
    pub spelling: String,
    /// What became of it.
    pub verdict: Verdict,
    /// What to do about it.
    pub advice: Option<String>,
}

/// What became of a command.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// No error was raised, and what could be read back is as it should be. What more is to be said.
    Understood(Option<String>),
    /// Nothing speaks against it, and nothing for it: the instrument raises no errors, and nothing was read back.
    Unproven,
    /// Errors in the queue, oldest first, and at which of several commands.
    Refused {
        /// The command of the spelling that was refused, if it has several.
        at: Option<String>,
        /// The errors.
        errors: Vec<InstrumentError>,
    },
    /// A question without an answer, and no error.
    Silent {
        /// The question.
        at: String,
        /// How long the answer was waited for.
        waited: Duration,
    },
    /// Answered or taken otherwise than it should be; how.
    Wrong(String),
    /// Why it was not tried.
    NotTried(String),
}

impl Verdict {
    /// Whether the command does what the profile says; `None` if that is not known.
    #[must_use]
    pub const fn is_good(&self) -> Option<bool> {
        match self {
            Self::Understood(_) => Some(true),
            Self::Refused { .. } | Self::Silent { .. } | Self::Wrong(_) => Some(false),
            Self::Unproven | Self::NotTried(_) => None,
        }
    }

    /// Whether the instrument does not know the command at all, as far as its errors tell.
    pub(super) fn is_unknown(&self) -> bool {
        match self {
            Self::Refused { errors, .. } => {
                errors.iter().any(|error| error.code.class() == ErrorClass::Command)
            }
            _ => false,
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Understood(None) => f.write_str("understood"),
            Self::Understood(Some(more)) => write!(f, "understood, {more}"),
            Self::Unproven => f.write_str("no error, and nothing that proves it"),
            Self::Refused { at, errors } => {
                let at = at.as_ref().map_or_else(String::new, |at| format!(" at `{at}`"));
                let errors: Vec<String> = errors.iter().map(ToString::to_string).collect();
                write!(f, "refused{at}: {}", errors.join("; "))
            }
            Self::Silent { at, waited } => {
                write!(f, "no answer to `{at}` within {} s", waited.as_secs_f64())
            }
            Self::Wrong(how) => f.write_str(how),
            Self::NotTried(why) => write!(f, "not tried: {why}"),
        }
    }
}
