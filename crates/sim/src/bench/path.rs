//! The truth of the path: what the unit's power passes on its way to each instrument.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Hertz, Length};

use super::{identity, read};

/// Parts from the unit on: the common ones, then those of each branch.
#[derive(Clone, Debug, Default)]
pub(crate) struct PathTruth {
    pub(crate) common: Vec<PartTruth>,
    pub(crate) analyser: Vec<PartTruth>,
    pub(crate) power_meter: Vec<PartTruth>,
}

/// One part.
#[derive(Clone, Debug)]
pub(crate) struct PartTruth {
    /// Unlike that of every other part; a calibration file is named after it.
    pub(crate) name: String,
    pub(crate) kind: PartKind,
    /// Standing wave ratio at both ends.
    pub(crate) vswr: f64,
    /// Expanded uncertainty (k = 2) with which a laboratory would state its loss.
    pub(crate) calibrated_within: Db,
    /// Whether the laboratory's error is another one at other frequencies.
    pub(crate) calibration: Calibration,
    /// How much more it loses once the unit's full power has warmed it through.
    pub(crate) heats: Db,
    /// Standard deviation of what its connectors lose more or less than at the laboratory.
    pub(crate) reconnection: Db,
    /// Whether its ends reflect apart from each other, so that its loss ripples over frequency.
    pub(crate) ripples: bool,
    /// The contact of the switch card that brings it in while it is closed; always in without one.
    pub(crate) contact: Option<u32>,
}

/// What a part does to a wave that passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum PartKind {
    /// The same loss everywhere but for a slope per gigahertz.
    Pad { loss: Db, slope: Db },
    /// A loss that grows with the root of the frequency, and a length in metres.
    Cable { loss: Db, at: Hertz, metres: f64 },
    /// A resonator across the line that takes out one frequency: `depth` at its centre, `loss` far from it.
    Notch { depth: Db, at: Hertz, quality: f64, loss: Db },
}

/// How a laboratory's error goes with frequency.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Calibration {
    /// The same everywhere.
    Flat,
    /// Slowly from one to another, with the same spread everywhere.
    Smooth,
}

impl PathTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a path")?;
        let common = fields.or(reader, "common", PartTruth::read_all, Vec::new());
        let analyser = fields.or(reader, "analyser", PartTruth::read_all, Vec::new());
        let power_meter = fields.or(reader, "power_meter", PartTruth::read_all, Vec::new());
        fields.close(reader);
        let path = Self { common: common?, analyser: analyser?, power_meter: power_meter? };
        let mut names: Vec<&str> = path.parts().map(|part| part.name.as_str()).collect();
        names.sort_unstable();
        if let Some(pair) = names.windows(2).find(|pair| pair[0] == pair[1]) {
            reader
                .mistake(node.span, format!("two parts are named `{}`", pair[0]))
                .hint("give each part a name of its own");
            return None;
        }
        Some(path)
    }

    /// All parts, common ones first.
    pub(crate) fn parts(&self) -> impl Iterator<Item = &PartTruth> {
        self.common.iter().chain(&self.analyser).chain(&self.power_meter)
    }
}

impl PartTruth {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::all(reader, node, "the parts", Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a part")?;
        let name = fields.required(reader, "name").and_then(|n| file_name(reader, n));
        let kind =
            match fields.one_of(reader, &["pad", "cable", "notch"]) {
                Some(("pad", node)) => {
                    let loss = loss(reader, node);
                    let slope = read::quantity(reader, &mut fields, "slope", Db::new(0.0));
                    loss.zip(slope).map(|(loss, slope)| PartKind::Pad { loss, slope })
                }
                Some(("notch", node)) => {
                    let depth = loss(reader, node);
                    let at = frequency(reader, &mut fields);
                    let quality = fields.or(reader, "quality", quality, 10.0);
                    let loss = fields.or(reader, "loss", loss, Db::new(0.2));
                    depth
                        .zip(at)
                        .zip(quality.zip(loss))
                        .map(|((depth, at), (quality, loss))| PartKind::Notch { depth, at, quality, loss })
                }
                Some((_, node)) => {
                    let loss = loss(reader, node);
                    let at = frequency(reader, &mut fields);
                    let length = read::quantity(reader, &mut fields, "length", Length::new(1.0));
                    loss.zip(at.zip(length)).map(|(loss, (at, length))| PartKind::Cable {
                        loss,
                        at,
                        metres: length.get(),
                    })
                }
                None => None,
            };
        let vswr = read::vswr(reader, &mut fields, "vswr", 1.0);
        let calibrated_within = read::quantity(reader, &mut fields, "calibrated_within", Db::new(0.1));
        let words = [("flat", Calibration::Flat), ("smooth", Calibration::Smooth)];
        let calibration = fields.or(
            reader,
            "calibration",
            |r, n| r.choice(n, "how the calibration's error goes with frequency", &words),
            Calibration::Flat,
        );
        let heats = read::quantity(reader, &mut fields, "heats", Db::new(0.0));
        let reconnection = read::at_least(reader, &mut fields, "reconnection", Db::new(0.0), Db::new(0.0));
        let ripples = fields.or(reader, "ripples", |r, n| r.flag(n, "`true` or `false`"), false);
        let contact = fields.maybe(reader, "in_while_closed", |r, n| r.whole(n, "a contact", 1, 64));
        fields.close(reader);
        Some(Self {
            name: name?,
            kind: kind?,
            vswr: vswr?,
            calibrated_within: calibrated_within?,
            calibration: calibration?,
            heats: heats?,
            reconnection: reconnection?,
            ripples: ripples?,
            contact: contact?,
        })
    }
}

fn loss(reader: &mut Reader, node: &Node) -> Option<Db> {
    let loss: Db = reader.parse(node, "a loss")?;
    if loss < Db::new(0.0) {
        reader.mistake(node.span, format!("expected a loss of at least 0 dB, found {loss}"));
        return None;
    }
    Some(loss)
}

/// The frequency that a loss or a notch belongs to.
fn frequency(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Hertz> {
    let node = fields.required(reader, "at")?;
    let at: Hertz = reader.parse(node, "a frequency")?;
    if at.get() == 0.0 {
        reader.mistake(node.span, "expected a frequency above 0 Hz, found 0 Hz");
        return None;
    }
    Some(at)
}

fn quality(reader: &mut Reader, node: &Node) -> Option<f64> {
    let quality = reader.number(node, "a quality factor")?;
    if (0.5..=1000.0).contains(&quality) {
        return Some(quality);
    }
    reader.mistake(node.span, format!("expected a quality factor from 0.5 to 1000, found `{quality}`"));
    None
}

fn file_name(reader: &mut Reader, node: &Node) -> Option<String> {
    let name = identity::field(reader, node)?;
    if name.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c)) && !name.starts_with('.') {
        return Some(name);
    }
    reader
        .mistake(node.span, format!("expected a name that can be a file's, found `{name}`"))
        .hint("use letters, digits, `-` and `_`");
    None
}
