//! What reaches the analyser beside the path: signals of others, and what the unit radiates.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::{read, unit};

/// A signal at the analyser's input that is not the unit's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ambient {
    pub(crate) frequency: Hertz,
    pub(crate) level: Dbm,
    /// When it comes and goes, since the bench started.
    pub(crate) from: Seconds,
    pub(crate) until: Option<Seconds>,
    /// Whether it happens to be there just while the unit is keyed.
    pub(crate) only_while_keyed: bool,
}

/// What the keyed unit radiates, at the analyser's input.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LeakTruth {
    /// How far the carrier lies there below the carrier at the unit's connector.
    pub(crate) below: Db,
    /// Orders that are radiated otherwise: how far each lies below the radiated carrier.
    pub(crate) harmonics: Vec<(u32, Db)>,
}

/// Signals that come and go are told apart by one bit each.
const MOST_PASSING: usize = 64;

impl Ambient {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        let lines = read::all(reader, node, "the ambient lines", Self::read)?;
        let passing = lines.iter().filter(|line| line.is_passing()).count();
        if passing > MOST_PASSING {
            reader.mistake(
                node.span,
                format!("expected at most {MOST_PASSING} ambient lines that come and go, found {passing}"),
            );
            return None;
        }
        Some(lines)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an ambient line")?;
        let frequency = fields.required(reader, "frequency").and_then(|n| reader.parse(n, "a frequency"));
        let level = fields.required(reader, "level").and_then(|n| reader.parse(n, "a level"));
        let from = read::quantity(reader, &mut fields, "from", Seconds::new(0.0));
        let until: Option<Option<Seconds>> = fields.maybe(reader, "until", |r, n| r.parse(n, "a time"));
        let only_while_keyed =
            fields.or(reader, "only_while_keyed", |r, n| r.flag(n, "`true` or `false`"), false);
        fields.close(reader);
        let (from, until) = (from?, until?);
        if let Some(until) = until.filter(|until| *until <= from) {
            reader.mistake(
                node.span,
                format!("expected an ambient line that ends after {from}, found one until {until}"),
            );
            return None;
        }
        Some(Self { frequency: frequency?, level: level?, from, until, only_while_keyed: only_while_keyed? })
    }

    /// Whether it is not always there.
    pub(crate) fn is_passing(&self) -> bool {
        self.from.get() > 0.0 || self.until.is_some() || self.only_while_keyed
    }
}

impl LeakTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a leak")?;
        let below = fields.required(reader, "below").and_then(|n| reader.parse(n, "a ratio"));
        let harmonics = fields.or(reader, "harmonics", unit::harmonics, Vec::new());
        fields.close(reader);
        Some(Self { below: below?, harmonics: harmonics? })
    }
}
