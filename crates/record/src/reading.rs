//! One measured quantity, with everything that a person needs to check it with a pencil.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::{Db, Dbm, Hertz};

use crate::acquisition::{Acquisition, MeterReading};
use crate::budget::Budget;
use crate::outcome::{Outcome, Reason, ReasonCode};
use crate::quantity::{Quantity, Unit};
use crate::series::Series;

/// The state of unit and bench that a reading belongs to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scope {
    /// The channel's name.
    pub channel: String,
    /// The carrier's nominal frequency.
    pub carrier: Hertz,
    /// The power setting's name.
    pub power_setting: String,
    /// The supply's name, if the plan names supplies.
    pub supply: Option<String>,
    /// The way from the unit to the analyser.
    pub path: String,
}

impl Scope {
    /// Channel, carrier, power setting and supply in one short line.
    #[must_use]
    pub fn in_short(&self) -> String {
        let supply = self.supply.as_ref().map_or_else(String::new, |supply| format!(", {supply}"));
        format!("{}, {}, {}{supply}", self.channel, self.carrier, self.power_setting)
    }
}

/// The figure of a reading: a value, or an upper bound where the line is not clear of the floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// The figure, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// The same as a level at the connector, if it is one.
    pub level: Option<Dbm>,
    /// Whether the true level may be anything up to this.
    pub bound: bool,
}

/// What the figure is held against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Limit {
    /// Not above this level.
    Upper {
        /// The limit.
        level: Dbm,
        /// The same, in dB below the carrier, where there is one.
        below_carrier: Option<Db>,
    },
    /// Within this window of power, in watts.
    Window {
        /// The lowest.
        low: f64,
        /// The highest.
        high: f64,
    },
    /// The rule leaves several limits possible.
    Several(Vec<Dbm>),
    /// Between these figures, in the unit of the reading's; an end that is absent does not bind.
    Between {
        /// The lowest.
        low: Option<f64>,
        /// The highest.
        high: Option<f64>,
        /// Their unit.
        unit: Unit,
    },
}

impl Limit {
    /// The ends of a window of power for people, in watts to the milliwatt: one that was written in dBm has no
    /// end of digits.
    #[must_use]
    pub fn shown_window(low: f64, high: f64) -> [f64; 2] {
        [low, high].map(|watts| (watts * 1e3).round() / 1e3)
    }
}

/// How far a figure lies within its limit; positive is good.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "Written")]
pub struct Margin {
    /// The distance.
    pub value: f64,
    /// Its unit: decibels for levels and powers.
    pub unit: Unit,
}

/// A margin as records have it: a bare number, in decibels, as long as there were no others.
#[derive(Deserialize)]
#[serde(untagged)]
enum Written {
    Decibels(f64),
    Of { value: f64, unit: Unit },
}

impl From<Written> for Margin {
    fn from(written: Written) -> Self {
        match written {
            Written::Decibels(value) => Self { value, unit: Unit::Db },
            Written::Of { value, unit } => Self { value, unit },
        }
    }
}

impl Margin {
    /// The margin in decibels, if that is its unit.
    #[must_use]
    pub fn db(self) -> Option<Db> {
        (self.unit == Unit::Db).then(|| Db::new(self.value))
    }

    /// The margin in hertz, if that is its unit.
    #[must_use]
    pub fn hertz(self) -> Option<Hertz> {
        (self.unit == Unit::Hz).then(|| Hertz::new(self.value))
    }
}

impl From<Db> for Margin {
    fn from(ratio: Db) -> Self {
        Self { value: ratio.get(), unit: Unit::Db }
    }
}

/// Where the limit comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Derivation {
    /// The published text.
    pub source: String,
    /// The steps, each a line of plain text.
    pub steps: Vec<String>,
}

/// The noise floor in the settings of the reading.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Floor {
    /// Mean noise power beside the line, at the connector.
    pub level: Dbm,
    /// Raw reading over floor: D.
    pub distance: Db,
    /// How far the highest point of that noise stands above its mean.
    #[serde(default)]
    pub height: Db,
    /// Points of the trace that it was taken from.
    pub points: u32,
}

/// How the raw reading became a level at the connector.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// What the instrument showed.
    pub raw: Dbm,
    /// Loss of each part of the path at this frequency.
    pub path: Vec<(String, Db)>,
    /// The whole loss.
    pub path_loss: Db,
    /// What the noise had added to the raw reading, taken off (positive); zero if nothing was.
    pub noise: Db,
}

/// The carrier by both instruments.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CrossCheck {
    /// By the power meter, at the connector.
    pub meter: Dbm,
    /// By the analyser, at the connector.
    pub analyser: Dbm,
    /// Analyser minus meter.
    pub difference: Db,
    /// The largest difference that is let pass.
    pub allowed: Db,
}

/// What shows that the figure belongs to the transmitter.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Proof {
    /// The floor.
    pub floor: Option<Floor>,
    /// The level at the analyser's first mixer, carrier included.
    pub mixer_level: Option<Dbm>,
    /// The most that the analyser itself can have made at this frequency, at the connector, by its intercept.
    pub own_distortion: Option<Dbm>,
    /// The point of the trace that was read, counted from 0.
    #[serde(default)]
    pub peak_point: Option<u32>,
    /// So many points to each side of it were averaged, in power, with it; 0 for the point alone.
    #[serde(default)]
    pub peak_reach: u32,
    /// Largest minus smallest of the sweeps' peaks.
    pub spread: Option<Db>,
    /// Marker minus trace at the peak.
    pub marker_difference: Option<Db>,
    /// What was there while the unit was not keyed, at the connector, in the same settings.
    pub unkeyed: Option<Dbm>,
    /// The carrier by both instruments.
    pub cross_check: Option<CrossCheck>,
    /// How much the carrier varied in zero span.
    pub carrier_variation: Option<Db>,
    /// How much it had changed by the end of the key-down.
    #[serde(default)]
    pub carrier_change: Option<Db>,
    /// Which of the reading's looks the figure was read from, counted from 1.
    #[serde(default)]
    pub read_from: Option<u32>,
    /// The least and the most that the line can be, with what the analyser may have made itself, uncertainty aside.
    #[serde(default)]
    pub lowest: Option<Dbm>,
    /// See `lowest`.
    #[serde(default)]
    pub highest: Option<Dbm>,
    /// Noise that came with the key, in the bandwidth that the limit refers to, where it was counted as a part of the line.
    #[serde(default)]
    pub noise_counted: Option<Dbm>,
    /// The width that was integrated over, for what is wider than the filter.
    #[serde(default)]
    pub width: Option<Hertz>,
    /// The line by each look, if there were several.
    #[serde(default)]
    pub steps: Vec<Step>,
}

/// A line by one of several looks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// The input attenuation.
    pub attenuation: Db,
    /// The resolution bandwidth.
    pub rbw: Hertz,
    /// The line at the connector, without the noise.
    pub level: Dbm,
    /// Whether noise hid it, so that the level is a bound.
    pub bound: bool,
    /// The most that the analyser made itself there, at the connector.
    pub own_distortion: Option<Dbm>,
}

/// One measured quantity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Its place in the run, from 1.
    pub ordinal: u32,
    /// What was measured.
    pub quantity: Quantity,
    /// In which state.
    pub scope: Scope,
    /// The order of the harmonic.
    pub order: Option<u32>,
    /// Which of several of its kind it is, in words: `upper adjacent channel`, `reference spur`.
    #[serde(default)]
    pub name: Option<String>,
    /// At which frequency.
    pub frequency: Hertz,
    /// When it was finished.
    pub at: Timestamp,
    /// What came out; `None` if nothing could be read.
    pub figure: Option<Figure>,
    /// What it is held against; `None` if there is no number.
    pub limit: Option<Limit>,
    /// Where the limit comes from.
    pub derivation: Derivation,
    /// Limit minus figure.
    pub margin: Option<Margin>,
    /// The chance that the true level keeps the limit.
    pub conformance_probability: Option<f64>,
    /// The uncertainty.
    pub budget: Option<Budget>,
    /// From raw reading to level.
    pub correction: Option<Correction>,
    /// What shows that it is true.
    pub proof: Proof,
    /// The verdict.
    pub outcome: Outcome,
    /// Why.
    pub reason: Option<Reason>,
    /// The figures of a course, such as power against time.
    #[serde(default)]
    pub series: Option<Series>,
    /// The raw looks with the analyser.
    pub acquisitions: Vec<Acquisition>,
    /// The raw readings of the power meter.
    pub meter: Vec<MeterReading>,
    /// What a reader of the reading should know beside its reason.
    #[serde(default)]
    pub remarks: Vec<String>,
}

impl Reading {
    /// The level at the connector, if the figure is one.
    #[must_use]
    pub fn level(&self) -> Option<Dbm> {
        self.figure?.level
    }

    /// Whether this is why it came to what it did.
    #[must_use]
    pub fn has_reason(&self, code: ReasonCode) -> bool {
        self.reason.as_ref().is_some_and(|reason| reason.code == code)
    }

    /// What it is about, for people.
    #[must_use]
    pub fn title(&self) -> String {
        self.about(self.quantity.title())
    }

    /// The same within a sentence.
    #[must_use]
    pub fn running_title(&self) -> String {
        self.about(&self.quantity.title().to_lowercase())
    }

    /// The same in a few short words.
    #[must_use]
    pub fn short_title(&self) -> String {
        let short = if self.order.is_some() { "harm." } else { self.quantity.short() };
        match &self.name {
            // Its name says all of it.
            Some(name) if self.quantity == Quantity::AdjacentChannelPower => name.clone(),
            _ => self.about(short),
        }
    }

    fn about(&self, what: &str) -> String {
        match (self.order, &self.name) {
            (Some(order), _) => format!("{what} {order}"),
            (None, Some(name)) => format!("{what}, {name}"),
            (None, None) => what.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_margin_of_an_early_record_is_in_decibels() {
        let early: Margin = serde_json::from_str("0.5768").unwrap();
        assert_eq!(early, Margin { value: 0.5768, unit: Unit::Db });
        let later = Margin { value: -12.0, unit: Unit::Hz };
        let text = serde_json::to_string(&later).unwrap();
        assert_eq!(serde_json::from_str::<Margin>(&text).unwrap(), later);
    }
}
