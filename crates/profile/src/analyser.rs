//! The profile of a spectrum analyser.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Dbm, Hertz, Range, Vswr};

use crate::command::{Commands, command_set};
use crate::oscillator::{self, FrequencyReference, PhaseNoise};
use crate::specification::Specification;

command_set! {
    /// What an analyser is asked to do.
    AnalyserCommand {
        /// To a known state.
        Reset => "reset",
        /// No sweeps of its own accord.
        Single => "single",
        /// Middle of the sweep, in hertz.
        Centre => "centre" (value),
        /// Width of the sweep, in hertz.
        Span => "span" (value),
        /// Resolution bandwidth, in hertz.
        Rbw => "rbw" (value),
        /// Video bandwidth, in hertz.
        Vbw => "vbw" (value),
        /// Points of the trace.
        Points => "points" (value),
        /// Duration of one sweep, in seconds.
        SweepTime => "sweep_time" (value),
        /// The detector, by its word in `detectors`.
        Detector => "detector" (value),
        /// Input attenuation, in dB.
        Attenuation => "attenuation" (value),
        /// Reference level, in dBm.
        ReferenceLevel => "reference_level" (value),
        /// Preamplifier out of circuit.
        PreamplifierOff => "preamplifier_off",
        /// The settings as they are: centre, span, RBW, VBW, points, sweep time, attenuation, reference level.
        ReadBack => "read_back" answers 8,
        /// Starts one sweep.
        Sweep => "sweep",
        /// Holds what follows until the sweep is done.
        Wait => "wait",
        /// The trace as 32-bit floats in a block, most significant byte first.
        TraceFormat => "trace_format",
        /// The trace.
        Trace => "trace" answers 1,
        /// The marker to the highest point.
        MarkerToPeak => "marker_to_peak",
        /// Frequency and level of the marker.
        Marker => "marker" answers 2,
        /// The frequency counter on the marker's line: on, and what it counts, in hertz; not every analyser has one.
        Counter => "counter" answers 1 or nothing,
        /// The condition bits behind `overload_bits` and `uncalibrated_bits`.
        Condition => "condition" answers 1,
        /// No self-alignment of its own accord.
        AlignmentOff => "alignment_off",
        /// Self-alignment now.
        Align => "align",
    }
}

/// How the noise figure of a data sheet was averaged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoiseAveraging {
    /// In power: the mean that an RMS detector shows.
    Power,
    /// In dB: reads 2.51 dB low.
    Logarithmic,
}

/// What a spectrum analyser understands, can do, and how well.
#[derive(Clone, Debug, PartialEq)]
pub struct AnalyserProfile {
    /// Spellings.
    pub commands: Commands<AnalyserCommand>,
    /// The words of its detectors: peak, RMS, sample.
    pub detectors: [String; 3],
    /// What the condition's bits mean.
    pub status: Status,
    /// What it covers.
    pub ranges: Ranges,
    /// What its input bears.
    pub limits: Limits,
    /// Its own noise.
    pub noise: Noise,
    /// Accuracy.
    pub accuracy: Vec<Specification>,
    /// How good its frequencies are, if that is stated.
    pub reference: Option<FrequencyReference>,
    /// The most that its oscillator adds beside a line, if that is stated.
    pub phase_noise: Option<PhaseNoise>,
}

/// Below these a figure is a slip, and what is computed from it no longer a number.
const NARROWEST_RBW: f64 = 1.0;
const FINEST_STEP: f64 = 0.1;
const LARGEST_FACTOR: f64 = 1e6;

const ACCURACY: [(&str, &str); 5] = [
    ("absolute_level", "analyser: absolute level"),
    ("frequency_response", "analyser: frequency response"),
    ("attenuator_switching", "analyser: attenuator switching"),
    ("bandwidth_switching", "analyser: bandwidth switching"),
    ("scale_fidelity", "analyser: scale fidelity"),
];

impl AnalyserProfile {
    /// The stated figure of a kind of accuracy, by its key: `scale_fidelity`, for example.
    #[must_use]
    pub fn accuracy_of(&self, key: &str) -> Option<&Specification> {
        let name = ACCURACY.iter().find(|(known, _)| *known == key)?.1;
        self.accuracy.iter().find(|figure| figure.name == name)
    }

    pub(crate) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let commands = fields.required(reader, "commands");
        let detectors = fields.required(reader, "detectors");
        let status = fields.required(reader, "status");
        let ranges = fields.required(reader, "ranges");
        let limits = fields.required(reader, "limits");
        let noise = fields.required(reader, "noise");
        let accuracy = fields.required(reader, "accuracy");
        let oscillators = oscillator::read_both(reader, fields);
        let commands = commands.and_then(|node| Commands::read(reader, node));
        let detectors = detectors.and_then(|node| read_detectors(reader, node));
        let status = status.and_then(|node| Status::read(reader, node));
        let ranges = ranges.and_then(|node| Ranges::read(reader, node));
        let limits = limits.and_then(|node| Limits::read(reader, node));
        let noise = noise.and_then(|node| Noise::read(reader, node));
        let accuracy = accuracy.and_then(|node| Specification::read_all(reader, node, &ACCURACY));
        let (reference, phase_noise) = oscillators?;
        Some(Self {
            commands: commands?,
            detectors: detectors?,
            status: status?,
            ranges: ranges?,
            limits: limits?,
            noise: noise?,
            accuracy: accuracy?,
            reference,
            phase_noise,
        })
    }
}

fn read_detectors(reader: &mut Reader, node: &Node) -> Option<[String; 3]> {
    let mut fields = reader.fields(node, "the detectors")?;
    let nodes = ["peak", "rms", "sample"].map(|key| fields.required(reader, key));
    fields.close(reader);
    let [peak, rms, sample] =
        nodes.map(|node| node.and_then(|node| reader.text(node, "the detector's word").map(str::to_owned)));
    Some([peak?, rms?, sample?])
}

/// Which bits of the condition say that a sweep is worthless: the sums of their weights.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Status {
    /// Overload.
    pub overload_bits: u32,
    /// Too fast a sweep.
    pub uncalibrated_bits: u32,
}

impl Status {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the status")?;
        let overload = fields.required(reader, "overload_bits");
        let uncalibrated = fields.required(reader, "uncalibrated_bits");
        fields.close(reader);
        let mut bits = |node: Option<&Node>| {
            node.and_then(|node| reader.whole(node, "the sum of the bits' weights", 0, 0x7FFF))
        };
        let (overload, uncalibrated) = (bits(overload), bits(uncalibrated));
        Some(Self { overload_bits: overload?, uncalibrated_bits: uncalibrated? })
    }
}

/// What an analyser covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranges {
    /// Frequencies.
    pub frequency: Range<Hertz>,
    /// Resolution bandwidths, in steps of 1, 3, 10.
    pub rbw: Range<Hertz>,
    /// Input attenuation.
    pub attenuation: Range<Db>,
    /// Step of the input attenuation.
    pub attenuation_step: Db,
    /// Most points of a trace.
    pub most_points: u32,
    /// Sweep time is at least this times span over RBW squared.
    pub sweep_factor: f64,
}

impl Ranges {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the ranges")?;
        let frequency = fields.required(reader, "frequency");
        let rbw = fields.required(reader, "rbw");
        let attenuation = fields.required(reader, "attenuation");
        let step = fields.required(reader, "attenuation_step");
        let points = fields.required(reader, "most_points");
        let factor = fields.required(reader, "sweep_factor");
        fields.close(reader);
        let frequency = frequency.and_then(|node| reader.parse(node, "a range of frequencies"));
        let rbw = rbw.and_then(|node| {
            let rbw: Range<Hertz> = reader.parse(node, "a range of bandwidths")?;
            if rbw.low().get() < NARROWEST_RBW {
                reader.mistake(
                    node.span,
                    format!("expected bandwidths from {NARROWEST_RBW} Hz up, found {rbw}"),
                );
                return None;
            }
            Some(rbw)
        });
        let attenuation = attenuation.and_then(|node| reader.parse(node, "a range of attenuations"));
        let step = step.and_then(|node| {
            let step: Db = reader.parse(node, "a step in dB")?;
            if step.get() < FINEST_STEP {
                reader
                    .mistake(node.span, format!("expected a step of {FINEST_STEP} dB or more, found {step}"));
                return None;
            }
            Some(step)
        });
        let points = points.and_then(|node| reader.whole(node, "a number of points", 101, 200_001));
        let factor = factor.and_then(|node| positive(reader, node, "the sweep factor"));
        Some(Self {
            frequency: frequency?,
            rbw: rbw?,
            attenuation: attenuation?,
            attenuation_step: step?,
            most_points: points?,
            sweep_factor: factor?,
        })
    }
}

/// What an analyser's input bears and makes of it. All levels are at the mixer, but `damage`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Second harmonic intercept.
    pub second_intercept: Dbm,
    /// Third order intercept.
    pub third_intercept: Dbm,
    /// The most total power that is measured without compression to speak of.
    pub linear_to: Dbm,
    /// What destroys the input, at the input.
    pub damage: Dbm,
    /// Standing wave ratio of the input.
    pub vswr: Vswr,
    /// What kind of figures the intercepts are.
    pub intercepts: Intercepts,
}

/// What kind of figures the intercepts are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Intercepts {
    /// The maker guarantees them, or they were measured on this instrument: the least that they are.
    Guaranteed,
    /// Most instruments of the type have them: they prove nothing about this one.
    Typical,
}

impl Limits {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the limits of the input")?;
        let levels = ["second_intercept", "third_intercept", "linear_to", "damage"]
            .map(|key| fields.required(reader, key));
        let vswr = fields.required(reader, "vswr");
        let words = [
            ("guaranteed", Intercepts::Guaranteed),
            ("measured", Intercepts::Guaranteed),
            ("typical", Intercepts::Typical),
        ];
        let intercepts = fields.or(
            reader,
            "intercepts",
            |reader, node| reader.choice(node, "what kind of figures the intercepts are", &words),
            Intercepts::Guaranteed,
        );
        fields.close(reader);
        let [second, third, linear, damage] =
            levels.map(|node| node.and_then(|node| reader.parse(node, "a level in dBm")));
        let vswr = vswr.and_then(|node| reader.parse(node, "a standing wave ratio"));
        Some(Self {
            second_intercept: second?,
            third_intercept: third?,
            linear_to: linear?,
            damage: damage?,
            vswr: vswr?,
            intercepts: intercepts?,
        })
    }
}

/// An analyser's own noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// In 1 Hz, with 0 dB attenuation.
    pub density: Dbm,
    /// How that figure was averaged.
    pub averaging: NoiseAveraging,
    /// Noise bandwidth over RBW.
    pub bandwidth: f64,
}

impl Noise {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the noise")?;
        let density = fields.required(reader, "in_1_hz");
        let averaging = fields.required(reader, "averaged");
        let bandwidth = fields.required(reader, "bandwidth_over_rbw");
        fields.close(reader);
        let density = density.and_then(|node| reader.parse(node, "a level in dBm"));
        let words = [("power", NoiseAveraging::Power), ("logarithmic", NoiseAveraging::Logarithmic)];
        let averaging = averaging.and_then(|node| reader.choice(node, "how it was averaged", &words));
        let bandwidth = bandwidth.and_then(|node| positive(reader, node, "noise bandwidth over RBW"));
        Some(Self { density: density?, averaging: averaging?, bandwidth: bandwidth? })
    }
}

fn positive(reader: &mut Reader, node: &Node, what: &str) -> Option<f64> {
    let value = reader.number(node, what)?;
    if value <= 0.0 || value > LARGEST_FACTOR {
        reader.mistake(
            node.span,
            format!("expected {what} above 0 and at most {LARGEST_FACTOR}, found {value}"),
        );
        return None;
    }
    Some(value)
}
