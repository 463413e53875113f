//! What modulates the keyed carrier.

use spurline_document::{Node, Reader};
use spurline_units::{Hertz, Ratio, Seconds};

use super::read;

/// The modulation of a keyed unit; without any, a bare carrier.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct ModulationTruth {
    pub(crate) fm: Option<Swing>,
    pub(crate) am: Option<Depth>,
    pub(crate) hum: Option<Depth>,
    pub(crate) burst: Option<Burst>,
}

/// A carrier whose frequency swings with a tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Swing {
    /// Peak deviation.
    pub(crate) deviation: Hertz,
    pub(crate) tone: Hertz,
}

/// A carrier whose voltage follows a tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Depth {
    /// From 0 to 1.
    pub(crate) depth: f64,
    pub(crate) tone: Hertz,
}

/// A carrier that is there for a part of each period, from key down on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Burst {
    pub(crate) on: Seconds,
    pub(crate) period: Seconds,
}

/// Speech has an index of a few; with more, a spectrum has so many lines that nobody looks at one.
const MOST_INDEX: f64 = 50.0;
/// The supply's ripple behind a full-wave rectifier on 50 Hz.
const HUM: f64 = 100.0;
/// Shorter bursts would be a modulation of their own, with lines.
const SHORTEST_PERIOD: f64 = 1e-3;

impl ModulationTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a modulation")?;
        let fm = fields.maybe(reader, "fm", |r, n| Swing::read(r, n, "a frequency modulation"));
        let am = fields.maybe(reader, "am", |r, n| Depth::read(r, n, "an amplitude modulation", None));
        let hum = fields.maybe(reader, "hum", |r, n| Depth::read(r, n, "a hum", Some(Hertz::new(HUM))));
        let burst = fields.maybe(reader, "burst", Burst::read);
        fields.close(reader);
        Some(Self { fm: fm?, am: am?, hum: hum?, burst: burst? })
    }
}

impl Swing {
    pub(super) fn read(reader: &mut Reader, node: &Node, what: &'static str) -> Option<Self> {
        let mut fields = reader.fields(node, what)?;
        let deviation = read::required_from(reader, &mut fields, "deviation", Hertz::new(0.0));
        let tone = read::required_above(reader, &mut fields, "tone", Hertz::new(0.0));
        fields.close(reader);
        let swing = Self { deviation: deviation?, tone: tone? };
        if swing.index() > MOST_INDEX {
            reader
                .mistake(
                    node.span,
                    format!(
                        "expected a deviation of at most {MOST_INDEX} times the tone, found {} at {}",
                        swing.deviation, swing.tone
                    ),
                )
                .hint("take a higher tone");
            return None;
        }
        Some(swing)
    }

    /// The index of modulation: the peak of the phase, in radians.
    pub(crate) fn index(&self) -> f64 {
        self.deviation / self.tone
    }
}

impl Depth {
    fn read(reader: &mut Reader, node: &Node, what: &'static str, default: Option<Hertz>) -> Option<Self> {
        let mut fields = reader.fields(node, what)?;
        let depth = fields.required(reader, "depth").and_then(|node| depth(reader, node));
        let tone = match default {
            Some(tone) => fields.or(reader, "tone", |r, n| read::above(r, n, "tone", Hertz::new(0.0)), tone),
            None => read::required_above(reader, &mut fields, "tone", Hertz::new(0.0)),
        };
        fields.close(reader);
        Some(Self { depth: depth?, tone: tone? })
    }
}

impl Burst {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a burst")?;
        let on = read::required_above(reader, &mut fields, "on", Seconds::new(0.0));
        let period = read::required_from(reader, &mut fields, "period", Seconds::new(SHORTEST_PERIOD));
        fields.close(reader);
        let burst = Self { on: on?, period: period? };
        if burst.on > burst.period {
            reader.mistake(
                node.span,
                format!("expected a burst of at most its period, found {} in {}", burst.on, burst.period),
            );
            return None;
        }
        Some(burst)
    }
}

pub(super) fn depth(reader: &mut Reader, node: &Node) -> Option<f64> {
    let depth: Ratio = reader.parse(node, "a depth")?;
    if (0.0..=1.0).contains(&depth.get()) {
        return Some(depth.get());
    }
    reader.mistake(node.span, format!("expected a depth from 0 % to 100 %, found {depth}"));
    None
}
