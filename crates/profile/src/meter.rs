//! The profile of an RF power meter.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Dbm, Hertz, Range, Vswr, Watts};

use crate::command::{Commands, command_set};
use crate::specification::Specification;

command_set! {
    /// What a power meter is asked to do.
    MeterCommand {
        /// To a known state.
        Reset => "reset",
        /// Readings in dBm.
        UnitDbm => "unit_dbm",
        /// The frequency whose calibration factor applies, in hertz.
        Frequency => "frequency" (value),
        /// Readings that are averaged into one.
        Averages => "averages" (value),
        /// Frequency and number of averaged readings as they are.
        ReadBack => "read_back" answers 2,
        /// Zero, with no power at the sensor.
        Zero => "zero",
        /// One reading.
        Read => "read" answers 1,
    }
}

/// What a power meter understands, can do, and how well.
#[derive(Clone, Debug, PartialEq)]
pub struct MeterProfile {
    /// Spellings.
    pub commands: Commands<MeterCommand>,
    /// Frequencies it covers.
    pub frequency: Range<Hertz>,
    /// Levels it measures.
    pub level: Range<Dbm>,
    /// What destroys the sensor.
    pub damage: Dbm,
    /// What it may show with nothing at the sensor, after zeroing.
    pub zero: Watts,
    /// File and key of that figure.
    pub zero_source: String,
    /// Standing wave ratio of the sensor.
    pub vswr: Vswr,
    /// Accuracy.
    pub accuracy: Vec<Specification>,
}

const ACCURACY: [(&str, &str); 3] = [
    ("calibration_factor", "power meter: calibration factor"),
    ("reference", "power meter: reference"),
    ("linearity", "power meter: linearity"),
];

impl MeterProfile {
    pub(crate) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let commands = fields.required(reader, "commands");
        let ranges = fields.required(reader, "ranges");
        let limits = fields.required(reader, "limits");
        let accuracy = fields.required(reader, "accuracy");
        let commands = commands.and_then(|node| Commands::read(reader, node));
        let ranges = ranges.and_then(|node| read_ranges(reader, node));
        let limits = limits.and_then(|node| read_limits(reader, node));
        let accuracy = accuracy.and_then(|node| Specification::read_all(reader, node, &ACCURACY));
        let ((frequency, level), (damage, zero, vswr)) = (ranges?, limits?);
        Some(Self {
            commands: commands?,
            frequency,
            level,
            damage,
            zero,
            zero_source: format!("{}: limits.zero", reader.source().name()),
            vswr,
            accuracy: accuracy?,
        })
    }
}

fn read_ranges(reader: &mut Reader, node: &Node) -> Option<(Range<Hertz>, Range<Dbm>)> {
    let mut fields = reader.fields(node, "the ranges")?;
    let frequency = fields.required(reader, "frequency");
    let level = fields.required(reader, "level");
    fields.close(reader);
    let frequency = frequency.and_then(|node| reader.parse(node, "a range of frequencies"));
    let level = level.and_then(|node| reader.parse(node, "a range of levels"));
    frequency.zip(level)
}

fn read_limits(reader: &mut Reader, node: &Node) -> Option<(Dbm, Watts, Vswr)> {
    let mut fields = reader.fields(node, "the limits of the sensor")?;
    let damage = fields.required(reader, "damage");
    let zero = fields.required(reader, "zero");
    let vswr = fields.required(reader, "vswr");
    fields.close(reader);
    let damage = damage.and_then(|node| reader.parse(node, "a level in dBm"));
    let zero = zero.and_then(|node| reader.parse(node, "a power"));
    let vswr = vswr.and_then(|node| reader.parse(node, "a standing wave ratio"));
    Some((damage?, zero?, vswr?))
}
