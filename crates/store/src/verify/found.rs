//! What is not as it was recorded: where, of what kind, and in words.

use serde::Serialize;

/// Something that is not as it was recorded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Break {
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// What became of it.
    pub kind: BreakKind,
    /// In words.
    pub what: String,
}

/// A place in a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "at", content = "number")]
pub enum Place {
    /// An event, by its number in the run.
    Event(i64),
    /// A part of the transcript, counted from 1.
    Transcript(i64),
    /// A link of the chain that is not there.
    Link(i64),
    /// The run as a whole.
    Run,
    /// A signature.
    Signature,
}

/// What became of a part of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BreakKind {
    /// It is not what was recorded.
    Altered,
    /// It was recorded and is not there.
    Missing,
    /// It was not recorded and is there.
    Inserted,
    /// It was recorded at another place.
    Reordered,
    /// It does not follow on what comes before it: what came before is missing, or one of them was made anew.
    Unlinked,
}

impl BreakKind {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Altered => "altered",
            Self::Missing => "missing",
            Self::Inserted => "inserted",
            Self::Reordered => "reordered",
            Self::Unlinked => "unlinked",
        }
    }
}

/// More than this is not told: the first is what matters.
const MOST: usize = 100;

/// What was found so far, each with the link that it belongs to.
#[derive(Debug, Default)]
pub(crate) struct Found(Vec<(i64, Break)>);

impl Found {
    /// Adds what belongs to a link; what belongs to none comes last.
    pub(crate) fn add(&mut self, link: Option<i64>, place: Place, kind: BreakKind, what: impl Into<String>) {
        if !self.is_full() {
            self.0.push((link.unwrap_or(i64::MAX), Break { place, kind, what: what.into() }));
        }
    }

    pub(super) fn is_full(&self) -> bool {
        self.0.len() >= MOST
    }

    pub(super) fn in_order(mut self) -> Vec<Break> {
        self.0.sort_by_key(|(link, _)| *link);
        self.0.into_iter().map(|(_, found)| found).collect()
    }
}
