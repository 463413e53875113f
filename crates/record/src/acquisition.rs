//! What the instruments gave: settings as confirmed by the instrument, raw sweeps, flags.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::{Db, Dbm, Hertz, Seconds};

/// How the analyser turns the many samples behind one point into that point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Detector {
    /// The highest sample.
    Peak,
    /// The root mean square of the samples: power averaging.
    Rms,
    /// One sample.
    Sample,
}

impl Detector {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Peak => "peak",
            Self::Rms => "RMS",
            Self::Sample => "sample",
        }
    }
}

/// The amplifier in front of the mixer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Preamplifier {
    /// Bypassed.
    Off,
    /// In circuit.
    On,
}

impl Preamplifier {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::On => "on",
        }
    }
}

/// The analyser's settings, as it confirmed them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AnalyserSettings {
    /// Middle of the sweep.
    pub centre: Hertz,
    /// Width of the sweep; zero for power against time.
    pub span: Hertz,
    /// Resolution bandwidth, 3 dB.
    pub rbw: Hertz,
    /// Video bandwidth.
    pub vbw: Hertz,
    /// Points of the trace.
    pub points: u32,
    /// Duration of one sweep.
    pub sweep_time: Seconds,
    /// The detector.
    pub detector: Detector,
    /// Input attenuation.
    pub attenuation: Db,
    /// The preamplifier.
    pub preamplifier: Preamplifier,
    /// Reference level, at the analyser's input.
    pub reference_level: Dbm,
}

impl AnalyserSettings {
    /// The frequency of a point of the trace.
    #[must_use]
    pub fn frequency_of(&self, point: usize) -> Hertz {
        let steps = f64::from(self.points.max(2) - 1);
        self.centre + self.span * (point as f64 / steps - 0.5)
    }

    /// The distance between two points of the trace.
    #[must_use]
    pub fn spacing(&self) -> Hertz {
        self.span / f64::from(self.points.max(2) - 1)
    }
}

/// What the analyser said about a sweep.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SweepFlags {
    /// The input or a later stage was overloaded.
    pub overload: bool,
    /// The sweep was too fast for its bandwidth.
    pub uncalibrated: bool,
}

/// One sweep, raw, at the analyser's input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sweep {
    /// Level of each point in dBm.
    pub levels: Vec<f32>,
}

/// One look with the analyser: settings, all its sweeps, marker, flags.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Acquisition {
    /// What the look was for: `zero span`, `carrier`, `line`, `unkeyed`, …
    pub purpose: String,
    /// When it began.
    pub at: Timestamp,
    /// Whether the unit was keyed.
    pub keyed: bool,
    /// The settings.
    pub settings: AnalyserSettings,
    /// The sweeps, in order.
    pub sweeps: Vec<Sweep>,
    /// Frequency and level of the marker on the last sweep's highest point.
    pub marker: Option<(Hertz, Dbm)>,
    /// What the analyser said about the sweeps.
    pub flags: SweepFlags,
}

/// One reading of the power meter, raw, at the sensor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeterReading {
    /// When it was taken.
    pub at: Timestamp,
    /// The frequency that the meter was told.
    pub frequency: Hertz,
    /// What it showed.
    pub level: Dbm,
}
