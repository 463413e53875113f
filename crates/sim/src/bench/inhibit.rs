//! Where a unit must not transmit, and what it does when it is keyed there all the same.

use spurline_document::{Node, Reader, Value};
use spurline_units::{Db, Hertz, Range};

use super::read;

/// A range in which the unit does not transmit as it is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Inhibit {
    pub(crate) range: Range<Hertz>,
    pub(crate) does: Inhibited,
}

/// What a unit that is keyed in such a range does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Inhibited {
    /// Nothing, as it should.
    Silent,
    /// It transmits somewhere else.
    ComesAt(Place),
    /// It transmits there, so much weaker.
    LetsThrough(Db),
}

/// Where a unit transmits that was sent elsewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Place {
    At(Hertz),
    /// Where it was last tuned to that is in no such range.
    Last,
}

/// More would be no model of a unit.
const MOST: usize = 100;

impl Inhibit {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::some(reader, node, "the inhibited ranges", MOST, Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        if !matches!(node.value, Value::Map(_)) {
            return Some(Self { range: reader.parse(node, "a range")?, does: Inhibited::Silent });
        }
        let mut fields = reader.fields(node, "an inhibited range")?;
        let range = fields.required(reader, "range").and_then(|n| reader.parse(n, "a range"));
        let does = match fields.one_of(reader, &["comes_at", "lets_through"]) {
            Some(("comes_at", node)) => place(reader, node).map(Inhibited::ComesAt),
            Some((_, node)) => {
                read::above(reader, node, "lets_through", Db::new(0.0)).map(Inhibited::LetsThrough)
            }
            None => None,
        };
        fields.close(reader);
        Some(Self { range: range?, does: does? })
    }
}

fn place(reader: &mut Reader, node: &Node) -> Option<Place> {
    match node.scalar() {
        Some("last") => Some(Place::Last),
        Some(word) if word.starts_with(|c: char| c.is_ascii_alphabetic()) => {
            let message = format!("expected `last` or a frequency, found `{word}`");
            reader
                .mistake(node.span, message)
                .hint("`last` is where it was last tuned to that is not inhibited");
            None
        }
        _ => read::above(reader, node, "a frequency", Hertz::new(0.0)).map(Place::At),
    }
}
