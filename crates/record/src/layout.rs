//! What was wired, as far as a drawing or a list of it needs to know.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use spurline_units::{Amperes, Db, Hertz, Range, Seconds, Volts, Watts};

use crate::run::Role;

/// What was wired when the run began.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// What every reading passes, from the unit's connector on.
    pub common: Vec<LaidPart>,
    /// The ways on from there, in the order of the bench file.
    pub ways: Vec<LaidWay>,
    /// How the unit is keyed.
    pub key: Option<LaidKey>,
    /// What feeds the unit, one after the other; empty if it feeds itself.
    pub supplies: Vec<LaidSupply>,
    /// What states when it was calibrated.
    #[serde(default)]
    pub calibrations: Vec<LaidCalibration>,
}

/// One way from the common parts to an instrument.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidWay {
    /// Its name, which readings give as their path.
    pub name: String,
    /// The instrument at its end.
    pub ends_at: Role,
    /// Whether this run reads by it.
    pub used: bool,
    /// Its parts behind the common ones.
    pub parts: Vec<LaidPart>,
    /// The position of each switch on it.
    pub set: Vec<LaidSwitch>,
}

/// One thing between two connectors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidPart {
    /// What people call it.
    pub name: String,
    /// The smallest and the largest of its losses at the carriers of the plan.
    pub loss: Option<Range<Db>>,
    /// The uncertainty of its loss, expanded for k = 2.
    pub uncertainty: Db,
    /// Where its loss is known.
    pub covers: Range<Hertz>,
    /// The power that it may be given without end.
    pub rated: Option<Watts>,
}

/// When something was calibrated.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaidCalibration {
    /// The instrument's part or the name of a part of the path.
    pub what: String,
    /// The part that it plays, if it is an instrument.
    pub role: Option<Role>,
    /// When it was calibrated.
    pub calibrated: Option<Date>,
    /// The last day on which that is good.
    pub due: Option<Date>,
    /// Who says so.
    pub certificate: Option<String>,
}

impl LaidCalibration {
    /// Whether it was no longer good on a day.
    #[must_use]
    pub fn has_expired(&self, on: Date) -> bool {
        self.due.is_some_and(|due| due < on)
    }
}

/// The position of one switch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LaidSwitch {
    /// The switch.
    pub name: String,
    /// The name of its position.
    pub position: String,
}

/// How the unit is keyed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidKey {
    /// The relay's contact, if it is one.
    pub contact: Option<u32>,
    /// What keys instead of a relay, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<String>,
    /// After how long it opens without being told; `None` if never.
    pub opens_by_itself: Option<Seconds>,
    /// The longest key-down that the plan allows.
    pub longest: Seconds,
    /// The shortest rest between two.
    pub rest: Seconds,
}

/// One supply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidSupply {
    /// Its name.
    pub name: String,
    /// The voltage that it is set to.
    pub set: Volts,
    /// The current limit.
    pub limit: Amperes,
}
