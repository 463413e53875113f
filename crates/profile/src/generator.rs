//! The profile of a signal generator.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Dbm, Hertz, Range, Vswr};

use crate::command::Commands;
use crate::source::SourceCommand;
use crate::specification::Specification;

/// What a signal generator understands, can do, and how well.
#[derive(Clone, Debug, PartialEq)]
pub struct GeneratorProfile {
    /// Spellings.
    pub commands: Commands<SourceCommand>,
    /// Frequencies it covers.
    pub frequency: Range<Hertz>,
    /// Levels it gives.
    pub level: Range<Dbm>,
    /// The most that may run into its output.
    pub reverse_power: Dbm,
    /// How far its own harmonics lie below its line at least.
    pub harmonics: Db,
    /// Standing wave ratio of its output.
    pub vswr: Vswr,
    /// Accuracy.
    pub accuracy: Vec<Specification>,
}

const ACCURACY: [(&str, &str); 1] = [("level", "generator: level")];

impl GeneratorProfile {
    pub(crate) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let commands = fields.required(reader, "commands");
        let ranges = fields.required(reader, "ranges");
        let limits = fields.required(reader, "limits");
        let accuracy = fields.required(reader, "accuracy");
        let commands = commands.and_then(|node| Commands::read(reader, node));
        let ranges = ranges.and_then(|node| read_ranges(reader, node));
        let limits = limits.and_then(|node| read_limits(reader, node));
        let accuracy = accuracy.and_then(|node| Specification::read_all(reader, node, &ACCURACY));
        let ((frequency, level), (reverse_power, harmonics, vswr)) = (ranges?, limits?);
        Some(Self {
            commands: commands?,
            frequency,
            level,
            reverse_power,
            harmonics,
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

fn read_limits(reader: &mut Reader, node: &Node) -> Option<(Dbm, Db, Vswr)> {
    let mut fields = reader.fields(node, "the limits of the output")?;
    let reverse = fields.required(reader, "reverse_power");
    let harmonics = fields.required(reader, "harmonics");
    let vswr = fields.required(reader, "vswr");
    fields.close(reader);
    let reverse = reverse.and_then(|node| reader.parse(node, "a level in dBm"));
    let harmonics = harmonics.and_then(|node| {
        let below: Db = reader.parse(node, "how far they lie below the line, in dB")?;
        if below < Db::new(0.0) {
            reader.mistake(node.span, format!("expected 0 dB or more, found {below}"));
            return None;
        }
        Some(below)
    });
    let vswr = vswr.and_then(|node| reader.parse(node, "a standing wave ratio"));
    Some((reverse?, harmonics?, vswr?))
}
