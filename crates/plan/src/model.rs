//! A plan: what to measure on which unit, against which rule.

use spurline_document::Span;
use spurline_limits::Rule;
use spurline_path::Part;
use spurline_record::{Decision, Issue};
use spurline_units::{Amperes, Db, Hertz, Power, Range, Seconds, Volts, Watts};

use crate::measure::{
    Ceiling, ModulationMeasure, OverTime, Search, SetUp, Silence, Spectrum, Standby, SupplySeries,
};
use crate::rules::RuleUse;

/// What to measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The plan's title.
    pub title: String,
    /// The name of the rule.
    pub rule: String,
    /// How levels near the limit are decided.
    pub decision: Decision,
    /// The width of the guard band over the expanded uncertainty.
    pub guard_factor: f64,
    /// The largest expanded uncertainty with which simple acceptance decides.
    pub largest_uncertainty: Option<Db>,
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
    /// What the carrier carries while it is measured; what is expected, where a set-up has to find it.
    pub modulation: Modulation,
    /// How the level of the tone for it is searched for, if it is.
    pub set_up: Option<SetUp>,
    /// The unit's own adapter, before everything that the bench brings.
    pub adapter: Option<(Part, Span)>,
    /// Which of the bench's ways are used.
    pub ways: WayNames,
    /// What becomes of a run for which something's calibration is no longer good.
    pub expired_calibration: ExpiredCalibration,
    /// What a carrier comes to whose power lies outside its window.
    pub outside_window: OutsideWindow,
    /// Where the unit must be silent, whatever it is told.
    pub silence: Option<Silence>,
    /// Power along the voltage of a supply.
    pub supply_series: Option<SupplySeries>,
    /// The bands in which the unit may be keyed; empty for the channels alone.
    pub authorised: Vec<(Range<Hertz>, Span)>,
    /// What its reports state beside what is measured.
    pub issue: Issue,
}

impl Plan {
    /// The rules by which silence and standby are judged, where they are rules.
    pub(crate) fn ceilings(&self) -> impl Iterator<Item = &Rule> {
        let silence = self.silence.as_ref().map(|silence| &silence.ceiling);
        let standby = self.measure.standby.as_ref().map(|standby| &standby.ceiling);
        silence.into_iter().chain(standby).filter_map(Ceiling::rule)
    }

    /// The same with what each is told.
    pub(crate) fn ceilings_mut(&mut self) -> impl Iterator<Item = &mut RuleUse> {
        let silence = self.silence.as_mut().map(|silence| &mut silence.ceiling);
        let standby = self.measure.standby.as_mut().map(|standby| &mut standby.ceiling);
        silence.into_iter().chain(standby).filter_map(Ceiling::rule_mut)
    }
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

/// What a carrier comes to whose power lies outside its window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OutsideWindow {
    /// A specification gives the window: the unit exceeds.
    #[default]
    Exceeds,
    /// The window says only what is expected: what was measured is not what was meant.
    Invalid,
}

/// Which of the bench's ways the plan names, and where; what it does not name is the only one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WayNames {
    /// For the carrier.
    pub carrier: Option<(String, Span)>,
    /// For the harmonics.
    pub harmonics: Option<(String, Span)>,
    /// For what leaks to the analyser with the unit on a load.
    pub leaks: Option<(String, Span)>,
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
    /// What is measured with it.
    pub extent: Extent,
}

/// How much of what the plan wants is measured in a state of unit and supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    #[default]
    Everything,
    /// The carrier's power alone.
    Carrier,
}

impl Extent {
    /// The word for it in plans.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Everything => "everything",
            Self::Carrier => "carrier",
        }
    }
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
    /// The names of the supplies that it is measured with; all if none is named.
    pub supplies: Vec<String>,
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
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The highest order of the harmonics; 1, the carrier itself, if none are measured.
    pub harmonics_up_to: u32,
    /// What is read off the carrier's own spectrum.
    pub spectrum: Spectrum,
    /// What is measured of the modulation.
    pub modulation: Option<ModulationMeasure>,
    /// The search for spurious emissions, if there is one.
    pub search: Option<Search>,
    /// What the unit emits while it is not keyed; measured once, not on each channel.
    pub standby: Option<Standby>,
    /// Power along a key-down.
    pub over_time: Option<OverTime>,
}

/// What the carrier carries while it is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Modulation {
    /// Nothing: it is a line.
    None,
    /// A tone by frequency or phase modulation.
    Tone {
        /// Peak deviation.
        deviation: Hertz,
        /// Frequency of the tone.
        tone: Hertz,
    },
    /// A tone by amplitude modulation.
    Am {
        /// Depth, from 0 to 1.
        depth: f64,
        /// Frequency of the tone.
        tone: Hertz,
    },
    /// On for a time, off for the rest of a period, and so on.
    Burst {
        /// How long it is on.
        on: Seconds,
        /// From one beginning to the next.
        period: Seconds,
    },
}

impl Modulation {
    /// The width of the harmonic of an order, 1 being the carrier itself: an order deviates as many times as far, and
    /// by Carson's rule the width is twice the sum of deviation and tone.
    #[must_use]
    pub fn occupied(&self, order: u32) -> Hertz {
        match self {
            Self::None | Self::Burst { .. } => Hertz::new(0.0),
            Self::Tone { deviation, tone } => (*deviation * f64::from(order) + *tone) * 2.0,
            Self::Am { tone, .. } => *tone * (2.0 * f64::from(order)),
        }
    }

    /// The frequency of the tone, if it is one.
    #[must_use]
    pub fn tone(&self) -> Option<Hertz> {
        match self {
            Self::Tone { tone, .. } | Self::Am { tone, .. } => Some(*tone),
            Self::None | Self::Burst { .. } => None,
        }
    }

    /// The share of time for which the carrier is there.
    #[must_use]
    pub fn duty(&self) -> f64 {
        match self {
            Self::Burst { on, period } => *on / *period,
            Self::None | Self::Tone { .. } | Self::Am { .. } => 1.0,
        }
    }

    /// By how much the mean of the power of an order exceeds that power of the mean: what swings makes more of its
    /// harmonics in something that distorts than its mean power says. With 1 + m cos the means of the fourth and the
    /// sixth power are 1 + 3 m^2 + 3/8 m^4 and 1 + 15/2 m^2 + 45/8 m^4 + 5/16 m^6.
    #[must_use]
    pub fn swelling(&self, order: u32) -> Db {
        let Self::Am { depth, .. } = self else { return Db::new(0.0) };
        let m2 = depth * depth;
        let mean = 1.0 + m2 / 2.0;
        Db::new(
            10.0 * match order {
                0 | 1 => 0.0,
                2 => ((1.0 + 3.0 * m2 + 0.375 * m2 * m2) / mean.powi(2)).log10(),
                _ => ((1.0 + 7.5 * m2 + 5.625 * m2 * m2 + 0.3125 * m2.powi(3)) / mean.powi(3)).log10(),
            },
        )
    }

    /// The word for it in plans and records.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Tone { .. } => "tone",
            Self::Am { .. } => "am",
            Self::Burst { .. } => "burst",
        }
    }
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
    /// After how long the unit ends a transmission by itself, if its timer is set.
    pub own_timer: Option<Seconds>,
    /// For how long a carrier is waited for once a person was told to key.
    pub comes_within: Seconds,
    /// The longest that it is keyed in any 5 minutes, all key-downs together.
    pub most_in_5_min: Seconds,
    /// Where this stands in the plan.
    pub span: Option<Span>,
}
