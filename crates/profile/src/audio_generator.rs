//! The profile of an audio generator.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Hertz, Range, Ratio, Volts};

use crate::command::Commands;
use crate::source::SourceCommand;

/// What an audio generator understands, can do, and how well.
#[derive(Clone, Debug, PartialEq)]
pub struct AudioGeneratorProfile {
    /// Spellings.
    pub commands: Commands<SourceCommand>,
    /// Tones that it gives.
    pub frequency: Range<Hertz>,
    /// Levels that it gives, r.m.s.
    pub level: Range<Volts>,
    /// How far a tone may be from what was set, as a share of it: anything within is equally likely.
    pub frequency_within: Ratio,
    /// File and key of that figure.
    pub frequency_source: String,
}

impl AudioGeneratorProfile {
    pub(crate) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let commands = fields.required(reader, "commands");
        let ranges = fields.required(reader, "ranges");
        let accuracy = fields.required(reader, "accuracy");
        let commands = commands.and_then(|node| Commands::read(reader, node));
        let ranges = ranges.and_then(|node| read_ranges(reader, node));
        let within = accuracy.and_then(|node| read_accuracy(reader, node));
        let (frequency, level) = ranges?;
        Some(Self {
            commands: commands?,
            frequency,
            level,
            frequency_within: within?,
            frequency_source: format!("{}: accuracy.frequency", reader.source().name()),
        })
    }
}

fn read_ranges(reader: &mut Reader, node: &Node) -> Option<(Range<Hertz>, Range<Volts>)> {
    let mut fields = reader.fields(node, "the ranges")?;
    let frequency = fields.required(reader, "frequency");
    let lowest = fields.required(reader, "lowest_level");
    let highest = fields.required(reader, "highest_level");
    fields.close(reader);
    let frequency = frequency.and_then(|node| reader.parse(node, "a range of frequencies"));
    let mut level = |node: Option<&Node>| {
        let node = node?;
        let level: Volts = reader.parse(node, "a level in volts r.m.s.")?;
        if level > Volts::new(0.0) {
            return Some((level, node.span));
        }
        reader.mistake(node.span, format!("expected a level above zero, found {level}"));
        None
    };
    let (lowest, highest) = (level(lowest), level(highest));
    let ((lowest, _), (highest, span)) = (lowest?, highest?);
    let Some(level) = Range::new(lowest, highest) else {
        reader.mistake(span, format!("expected a level from {lowest} up, found {highest}"));
        return None;
    };
    Some((frequency?, level))
}

fn read_accuracy(reader: &mut Reader, node: &Node) -> Option<Ratio> {
    let mut fields = reader.fields(node, "the accuracy")?;
    let frequency = fields.required(reader, "frequency");
    fields.close(reader);
    let node = frequency?;
    let within: Ratio = reader.parse(node, "a share")?;
    if (0.0..=0.1).contains(&within.get()) {
        return Some(within);
    }
    reader
        .mistake(node.span, format!("expected a share from 0 % to 10 %, found {within}"))
        .hint("write what the data sheet says, for example `50 ppm`");
    None
}
