//! What a rule answers.

use std::fmt;

use spurline_units::{Db, Dbm, Hertz};

/// How far the text behind a rule was checked, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Read in the published text of the edition that the rule names.
    Verified,
    /// Taken from a text that restates the rule.
    SecondHand,
    /// Remembered; nobody has read it for this file.
    FromMemory,
}

impl Status {
    pub(crate) const WORDS: &'static [(&'static str, Self)] =
        &[("verified", Self::Verified), ("second-hand", Self::SecondHand), ("from-memory", Self::FromMemory)];

    /// What must stand beside every verdict by this rule; nothing where the text was read.
    #[must_use]
    pub const fn caveat(self) -> Option<&'static str> {
        match self {
            Self::Verified => None,
            Self::SecondHand | Self::FromMemory => Some("rule text not verified"),
        }
    }
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Verified => "verified",
            Self::SecondHand => "second-hand",
            Self::FromMemory => "from-memory",
        })
    }
}

/// What makes a limit as strict as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Binding {
    /// A level that stays where it is when the mean power moves; `43 dB + 10 log power` below the power is one.
    Absolute,
    /// A number of decibels below the mean power.
    Relative,
    /// One of each, within 0.005 dB of one another.
    Both,
}

/// Which part of a rule answered.
///
/// Two findings with different branches may have a step between them. All parts are absent where nothing was
/// decided.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BranchId {
    /// The paragraph, as the rule file names it; absent where none applies.
    pub paragraph: Option<String>,
    /// The row of the paragraph, from 1; absent where the paragraph gives no number or exempts.
    pub row: Option<usize>,
    /// The term of the row that binds, from 1 in the order of the file; of terms that tie, the first.
    pub term: Option<usize>,
}

impl fmt::Display for BranchId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.paragraph.as_deref().unwrap_or("no paragraph"))?;
        if let Some(row) = self.row {
            write!(f, " row {row}")?;
        }
        self.term.map_or(Ok(()), |term| write!(f, " term {term}"))
    }
}

/// The answer itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// There is a number.
    Limit {
        /// The highest level that complies, at the antenna connector.
        level: Dbm,
        /// Mean power minus limit, positive where the limit is below the carrier.
        relative: Db,
        /// What makes it so strict.
        binding: Binding,
    },
    /// The rule has no number here; that is no permission and no pass.
    NoLimit,
    /// The numbers do not bind this transmitter.
    Exempt,
    /// A fact is missing that the answer turns on.
    Undetermined {
        /// The facts to ask for; `at` stands for the frequency of the emission.
        missing: Vec<String>,
        /// Every answer that stays possible, none of them undetermined, each branch once.
        possible: Vec<Finding>,
    },
}

/// The answer with its reasons.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The answer.
    pub verdict: Verdict,
    /// How it follows, a line a step, for a person.
    pub derivation: Vec<String>,
    /// The published text that answered, for example `47 CFR 97.307(e)`.
    pub source: String,
    /// How far that text was checked.
    pub status: Status,
    /// The bandwidth the limit is meant in; absent where the rule states none or the emission frequency, on
    /// which it depends, is not known.
    pub reference_bandwidth: Option<Hertz>,
    /// Which part of the rule answered.
    pub branch: BranchId,
}

impl Finding {
    /// Every answer that must be judged: the possible ones of an undetermined finding, else the finding itself.
    #[must_use]
    pub fn branches(&self) -> &[Self] {
        match &self.verdict {
            Verdict::Undetermined { possible, .. } => possible,
            Verdict::Limit { .. } | Verdict::NoLimit | Verdict::Exempt => std::slice::from_ref(self),
        }
    }

    /// The limit, where there is exactly one.
    #[must_use]
    pub const fn level(&self) -> Option<Dbm> {
        match self.verdict {
            Verdict::Limit { level, .. } => Some(level),
            Verdict::NoLimit | Verdict::Exempt | Verdict::Undetermined { .. } => None,
        }
    }
}
