//! The key line of a bench.

use spurline_document::{Node, Reader};
use spurline_record::Role;
use spurline_units::Seconds;

use super::Shelf;
use crate::bench::{InstrumentAt, RelayKeyLine};

pub(super) fn read(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<RelayKeyLine> {
    let mut fields = reader.fields(node, "the key")?;
    let relay = fields.required(reader, "relay");
    fields.close(reader);
    let mut fields = reader.fields(relay?, "the relay")?;
    let contact = fields.required(reader, "contact");
    let opens_by_itself = fields.maybe(reader, "opens_by_itself", read_opening);
    let instrument = shelf.instrument_in(reader, Role::Relay, &mut fields);
    fields.close(reader);
    instruments.push(instrument);
    let contact = contact.and_then(|node| reader.whole(node, "the number of a contact", 1, 999));
    Some(RelayKeyLine { contact: contact?, opens_by_itself: opens_by_itself? })
}

/// Told again three times within it, a shorter time would leave no room for one slow answer.
const SHORTEST_OPENING: f64 = 0.5;

fn read_opening(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if span.get() < SHORTEST_OPENING {
        let message = format!("expected a time of {SHORTEST_OPENING} s or more, found {span}");
        reader.mistake(node.span, message).hint("1 s leaves room for an answer that comes late");
        return None;
    }
    Some(span)
}
