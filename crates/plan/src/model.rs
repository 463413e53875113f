//! A plan: what to measure on which unit, against which rule.

use spurline_document::Span;
use spurline_path::Part;
use spurline_record::Decision;
use spurline_units::{Amperes, Hertz, Power, Range, Seconds, Volts, Watts};

/// What to measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The plan's title.
    pub title: String,
    /// The name of the rule.
    pub rule: String,
    /// How levels near the limit are decided.
    pub decision: Decision,
    /// The unit under test.
    pub unit: Unit,
    /// Supplies, one after the other; empty if the unit feeds itself.
    pub supplies: Vec<SupplySetting>,
    /// Channels.
    pub channels: Vec<Channel>,
    /// What is measured on each.
    pub measure: Measure,
    /// How long the unit may be keyed.
    pub key: Key,
    /// The unit's own adapter, before everything that the bench brings.
    pub adapter: Option<(Part, Span)>,
    /// Which of the bench's ways are used.
    pub ways: WayNames,
    /// What becomes of a run for which something's calibration is no longer good.
    pub expired_calibration: ExpiredCalibration,
}

/// What becomes of a run for which something's calibration is no longer good.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ExpiredCalibration {
    /// It is told, and stands in the record.
    #[default]
    Warn,
    /// Nothing is keyed.
    Refuse,
}

/// Which of the bench's ways the plan names, and where; what it does not name is the only one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WayNames {
    /// For the carrier.
    pub carrier: Option<(String, Span)>,
    /// For the harmonics.
    pub harmonics: Option<(String, Span)>,
    /// Where the names should stand if they are missing.
    pub place: Option<Span>,
}

/// The unit under test.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// What it is.
    pub model: String,
    /// Its rated power.
    pub rated_power: Option<Watts>,
    /// Magnitude of the reflection of its connector at the carrier, and where that figure stands.
    pub reflection: (f64, String),
    /// The same away from the carrier.
    pub reflection_off_carrier: (f64, String),
}

/// One supply.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplySetting {
    /// Its name.
    pub name: String,
    /// The voltage at the supply.
    pub set: Volts,
    /// The current limit.
    pub limit: Amperes,
}

/// One channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    /// Its name.
    pub name: String,
    /// The carrier.
    pub carrier: Hertz,
    /// Where the carrier stands in the plan.
    pub carrier_span: Span,
    /// The power settings.
    pub powers: Vec<PowerSetting>,
}

/// One power setting and what the carrier must be in it.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerSetting {
    /// Its name, as the unit knows it.
    pub name: String,
    /// The window of the carrier's mean power.
    pub window: Range<Power>,
}

/// What is measured on each channel and power setting, beside the carrier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// The highest order of the harmonics.
    pub harmonics_up_to: u32,
}

/// After a key-down the unit rests at least this many times as long as it was keyed.
pub const REST_FACTOR: u32 = 3;

/// How long the unit may be keyed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Key {
    /// The longest key-down.
    pub longest: Seconds,
    /// The shortest rest between two.
    pub rest: Seconds,
    /// Where this stands in the plan.
    pub span: Option<Span>,
}
