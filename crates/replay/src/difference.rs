//! Where a run asks something else than what was recorded.

use std::fmt;
use std::io;
use std::sync::Arc;

use thiserror::Error;

use crate::shown::Shown;

/// A request that is not the recorded one, with both sides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// On which link.
    pub link: Arc<str>,
    /// In which step of the recorded run.
    pub step: Arc<str>,
    /// Which message to that instrument, from 1.
    pub number: usize,
    /// What was recorded; `None` if nothing more was.
    pub recorded: Option<Vec<u8>>,
    /// What was asked; `None` if nothing more was.
    pub asked: Option<Vec<u8>>,
}

/// Longer messages are cut where they are shown.
const MOST_SHOWN: usize = 600;

struct Side<'a>(&'a Option<Vec<u8>>);

impl fmt::Display for Side<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            None => f.write_str("nothing more"),
            Some(bytes) if bytes.len() > MOST_SHOWN => {
                write!(f, "`{}…` ({} bytes)", Shown(&bytes[..MOST_SHOWN]), bytes.len())
            }
            Some(bytes) => write!(f, "`{}`", Shown(bytes)),
        }
    }
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { link, step, number, recorded, asked } = self;
        write!(
            f,
            "message {number} to the {link}, in step `{step}`: recorded {}, asked {}",
            Side(recorded),
            Side(asked)
        )
    }
}

impl std::error::Error for Difference {}

/// Why a run cannot be repeated from its transcript.
#[derive(Debug, Error)]
pub enum ReplayError {
    /// A port cannot be had.
    #[error("the recorded {link} cannot listen on this machine")]
    Listen {
        /// Whose.
        link: Arc<str>,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Something else was asked than what was recorded.
    #[error("the program does not ask what was recorded")]
    Differs(#[source] Difference),
}

impl ReplayError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Listen { .. } => "the system is out of something: ports, files or memory",
            Self::Differs(_) => {
                "a transcript answers only what was asked when it was kept: another version of the program may ask otherwise"
            }
        }
    }
}
