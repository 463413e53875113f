//! A verdict beside that of a run: the same looks, judged again by something else.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::outcome::Outcome;
use crate::reading::Reading;
use crate::run::{RunHeader, RunId};

/// How a reading of a verdict was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JudgedFrom {
    /// From its raw looks.
    Raw,
    /// From its recorded figure, moved by what was replaced.
    Corrected,
    /// As it was recorded: nothing that was replaced touches it.
    Recorded,
}

impl JudgedFrom {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Raw => "raw",
            Self::Corrected => "corrected",
            Self::Recorded => "recorded",
        }
    }
}

/// Something that a verdict rests on in place of what the run had.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Replaced {
    /// What: `rule`, `decision`, `guard factor`, `fact NAME`, `table NAME` or `bench`.
    pub what: String,
    /// What the run had; empty where it had nothing.
    pub from: String,
    /// What the verdict has.
    pub to: String,
}

/// A verdict that was made again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// The run.
    pub run: RunId,
    /// Which of the verdicts on it, from 1; 0 as long as it is not kept.
    pub number: u32,
    /// When it was made.
    pub at: Timestamp,
    /// What it rests on; empty if only the program is another.
    pub replaced: Vec<Replaced>,
    /// What it comes to.
    pub outcome: Option<Outcome>,
    /// The head of the run's chain of hashes that it rests on, in hexadecimal; `None` where the run has none.
    pub head: Option<String>,
    /// The header of the run as it reads with what was replaced, its files included; `software` is what judged again.
    pub header: RunHeader,
    /// The readings in the order of the run's.
    pub readings: Vec<VerdictReading>,
}

/// One reading of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VerdictReading {
    /// How it was made.
    pub from: JudgedFrom,
    /// The reading.
    pub reading: Reading,
}

impl Replaced {
    /// All that was replaced, in words.
    #[must_use]
    pub fn words(all: &[Self]) -> String {
        let words = all.iter().map(|replaced| match replaced.from.as_str() {
            "" => format!("{} {}", replaced.what, replaced.to),
            from => format!("{} {} in place of {from}", replaced.what, replaced.to),
        });
        let words: Vec<String> = words.collect();
        if words.is_empty() { "nothing replaced".to_owned() } else { words.join(", ") }
    }
}

impl Verdict {
    /// Its name: that of the run, and its number.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{}.{}", self.run, self.number)
    }

    /// What a reader is told of it before all else.
    #[must_use]
    pub fn notice(&self) -> String {
        format!(
            "judged again on {} by {} with {}; the original verdict stands in the record",
            self.at.strftime("%Y-%m-%d %H:%M UTC"),
            self.header.software,
            Replaced::words(&self.replaced)
        )
    }
}
