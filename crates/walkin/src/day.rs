//! What the file of a test day says.

use spurline_record::Decision;
use spurline_units::{Db, Dbm, Hertz, Power, Range, Seconds};

/// A test day.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Its title.
    pub title: String,
    /// Where it is held.
    pub place: String,
    /// The bench's file.
    pub bench: String,
    /// The name of the rule.
    pub rule: String,
    /// What the rule is told beside what is measured.
    pub facts: Vec<(String, String)>,
    /// How levels near the limit are decided.
    pub decision: Decision,
    /// Where a carrier may be.
    pub bands: Vec<Range<Hertz>>,
    /// How strong it may be.
    pub power: Range<Power>,
    /// The highest order of the harmonics.
    pub orders: u32,
    /// The longest that a radio is keyed.
    pub longest: Seconds,
    /// For how long a carrier is waited for.
    pub within: Seconds,
    /// Which of the bench's ways are used, for the carrier and for the harmonics.
    pub ways: [Option<String>; 2],
    /// What the tags begin with that are put on radios at the door, beside `#`.
    pub tags: Vec<String>,
    /// The radio that shows whether the bench is what it was.
    pub reference: Option<ReferenceRadio>,
    /// The paper of the slips.
    pub slip: SlipWidth,
    /// The file itself, for what it names.
    pub file: String,
}

/// A radio that is measured again and again.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceRadio {
    /// Its tag.
    pub tag: String,
    /// How often it is asked for.
    pub every: Seconds,
    /// What its carrier is known to be, if it is.
    pub carrier: Option<Dbm>,
    /// How far its carrier may be from that, and from what it was.
    pub tolerance: Db,
}

/// The paper of a slip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SlipWidth {
    /// 58 mm: 32 columns.
    #[default]
    Narrow,
    /// 80 mm: 48 columns.
    Wide,
}

impl SlipWidth {
    /// How many characters a line has (common practice of printers with 12 x 24 dots a character).
    #[must_use]
    pub const fn columns(self) -> usize {
        match self {
            Self::Narrow => 32,
            Self::Wide => 48,
        }
    }
}
