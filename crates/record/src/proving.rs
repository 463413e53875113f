//! The proof of a bench: known lines, each with what was read of it.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::{Db, Dbm, Hertz};

use crate::acquisition::AnalyserSettings;
use crate::budget::Budget;
use crate::run::{InstrumentUsed, RunId};

/// Whether known lines are read as what they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofOutcome {
    /// Every line was read within the uncertainty of the difference.
    Proven,
    /// A line was read too high or too low, or is not there.
    NotProven,
    /// No line was read wrongly, but one could not be read, or there was none.
    Undecided,
}

impl ProofOutcome {
    /// The words for it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::NotProven => "not proven",
            Self::Undecided => "undecided",
        }
    }

    /// What several lines come to.
    #[must_use]
    pub fn of_all(lines: &[KnownLine]) -> Self {
        let has = |wanted| lines.iter().any(|line| line.outcome == wanted);
        if has(Self::NotProven) {
            Self::NotProven
        } else if has(Self::Undecided) || lines.is_empty() {
            Self::Undecided
        } else {
            Self::Proven
        }
    }
}

impl fmt::Display for ProofOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.words())
    }
}

/// A generator's line and what was read of it. Levels are where the unit's connector is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KnownLine {
    /// The way by which it was read.
    pub path: String,
    /// The carrier that was there beside it; `None` if it was alone.
    pub beside: Option<Hertz>,
    /// Its frequency.
    pub frequency: Hertz,
    /// The level that the generator was told to give at its output.
    pub set: Dbm,
    /// What that comes to at the connector.
    pub expected: Dbm,
    /// What was read; `None` if there was nothing to read.
    pub read: Option<Dbm>,
    /// Whether the read level is only an upper bound.
    pub bound: bool,
    /// Read less expected.
    pub difference: Option<Db>,
    /// The expanded uncertainty of the difference: what it may be.
    pub allowed: Db,
    /// What that is made of.
    pub budget: Budget,
    /// The loss of the path from the connector to the analyser.
    pub path_loss: Db,
    /// The settings that it was read with.
    pub settings: AnalyserSettings,
    /// What it comes to.
    pub outcome: ProofOutcome,
    /// Why, where that is not plain.
    pub reason: Option<String>,
}

/// What came of reading known lines with a bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BenchProof {
    /// Its name.
    pub id: RunId,
    /// When it was begun.
    pub at: Timestamp,
    /// The bench's title.
    pub bench: String,
    /// Program and version.
    pub software: String,
    /// The seed, if the bench is simulated.
    pub simulated: Option<u64>,
    /// SHA-256, in hexadecimal, of what the bench file and its tables say of the path; none in an early proof.
    #[serde(default)]
    pub path: Option<String>,
    /// The instruments as they were found.
    pub instruments: Vec<InstrumentUsed>,
    /// The lines in the order in which they were read.
    pub lines: Vec<KnownLine>,
    /// What was left out and why, and what else a reader should know.
    pub notes: Vec<String>,
    /// What all of them come to.
    pub outcome: ProofOutcome,
}

impl BenchProof {
    /// The serial number of the analyser that read them.
    #[must_use]
    pub fn analyser(&self) -> &str {
        let analyser = self.instruments.iter().find(|used| used.role == crate::run::Role::Analyser);
        analyser.map_or("", |used| used.identity.serial.as_str())
    }
}
