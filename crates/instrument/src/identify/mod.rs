//! Whether and how an instrument on the desk can be used: who answers, in which manner, and which spellings of a
//! profile it understands.
//!
//! Nothing here switches, feeds or keys. Without a profile, and towards supplies, relays, units and generators, there are
//! questions only. An analyser and a power meter are told settings that do no harm, and get back what they had.
//! The conversation goes over a bare link: a session would bring every surprise back into step, and here the
//! surprises are what is looked for.

mod advice;
mod analyser;
mod answering;
mod attempt;
mod finding;
mod keepsake;
mod line;
mod longest;
mod meter;
mod questions;
mod shown;

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{Kind, Profile};
use spurline_transport::{Address, LinkError, LinkSettings, SerialLine};
use thiserror::Error;

pub use answering::{Answering, Reaction};
pub use finding::{Finding, Verdict};

use crate::opened::settings;
use attempt::Trial;
use line::{Line, Lost};

/// What was found out about an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Identified {
    /// Who answers, and in which manner.
    pub answering: Answering,
    /// What became of each command of the profile, in the order in which they were tried; empty without a profile.
    pub findings: Vec<Finding>,
    /// What else is to be known or done, in sentences.
    pub notes: Vec<String>,
    /// Why it ended before everything was tried.
    pub ended: Option<String>,
}

impl Identified {
    /// Whether nothing was found that stands in the way of using the instrument so.
    #[must_use]
    pub fn is_usable(&self) -> bool {
        let refused = self.findings.iter().any(|finding| finding.verdict.is_good() == Some(false));
        self.answering.identity.is_ok() && self.ended.is_none() && !refused
    }
}

/// Why nothing was found out.
#[derive(Debug, Error)]
pub enum IdentifyError {
    /// No link.
    #[error("nobody can be reached at {address}")]
    Link {
        /// Where.
        address: String,
        /// Why.
        #[source]
        source: LinkError,
    },
    /// The first question was not answered.
    #[error("expected an answer to `*IDN?` from {address} within {seconds} s, found none")]
    Silent {
        /// Where.
        address: String,
        /// How long it was waited for.
        seconds: f64,
    },
}

impl IdentifyError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Link { .. } => {
                "is it switched on, on this network, and free of other programs' connections?"
            }
            Self::Silent { .. } => {
                "is it an instrument that speaks SCPI at this port, and does it take messages that end with LF?"
            }
        }
    }
}

/// Finds out who answers at `address` and, with a profile, which of its spellings are understood.
///
/// An answer is waited for as long as the profile says, without one for `within`. The unit must not be keyed.
///
/// # Errors
///
/// If nobody answers. A link that is lost later ends the looking, and what was found so far is told.
pub async fn identify(
    address: &Address,
    serial_line: SerialLine,
    profile: Option<&Profile>,
    within: Duration,
    clock: Clock,
) -> Result<Identified, IdentifyError> {
    let within = profile.map_or(within, |profile| profile.messages.answer_within.duration());
    let unreachable = |source| IdentifyError::Link { address: address.to_string(), source };
    let settings = profile.map_or_else(
        || LinkSettings { line: serial_line, ..LinkSettings::default() },
        |profile| settings(&profile.messages, serial_line),
    );
    let mut line = Line::open(address, settings, within, clock).await.map_err(unreachable)?;
    let answering = match answering::look(&mut line).await {
        Ok(Some(answering)) => answering,
        Ok(None) => {
            let seconds = within.as_secs_f64();
            return Err(IdentifyError::Silent { address: address.to_string(), seconds });
        }
        Err(Lost { source, .. }) => return Err(unreachable(source)),
    };
    Ok(match profile {
        None => Identified { answering, findings: Vec::new(), notes: Vec::new(), ended: None },
        Some(profile) => try_profile(line, answering, profile).await,
    })
}

async fn try_profile(line: Line, answering: Answering, profile: &Profile) -> Identified {
    let mut trial = Trial::new(line, profile.messages.clone());
    let ended = tried(&mut trial, &answering, profile).await.err().map(|lost| lost.to_string());
    let (findings, mut notes) = trial.into_findings();
    if ended.is_some() {
        notes.push("the link was lost: the instrument is left as it was then".to_owned());
    }
    Identified { answering, findings, notes, ended }
}

async fn tried(trial: &mut Trial, answering: &Answering, profile: &Profile) -> Result<(), Lost> {
    trial.begin(answering);
    match &profile.kind {
        Kind::Analyser(profile) => analyser::try_all(trial, profile).await?,
        Kind::PowerMeter(profile) => meter::try_all(trial, profile).await?,
        Kind::Supply(profile) => questions::supply(trial, profile).await?,
        Kind::Relay(profile) => questions::relay(trial, profile).await?,
        Kind::Unit(profile) => questions::unit(trial, profile).await?,
        Kind::Generator(profile) => questions::source(trial, &profile.commands, "dBm").await?,
        Kind::AudioGenerator(profile) => questions::source(trial, &profile.commands, "V").await?,
    }
    longest::try_it(trial).await
}

#[cfg(test)]
mod tests;
