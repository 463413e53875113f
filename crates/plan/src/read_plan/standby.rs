//! Emission in standby, as a plan says it.

use spurline_document::{Node, Reader};
use spurline_units::{Hertz, Range};

use super::ceiling;
use crate::measure::Standby;
use crate::read_bench::Shelf;

/// Reads what stands under `measure.standby`.
pub(super) fn read(reader: &mut Reader, node: &Node, shelf: &mut Shelf<'_>) -> Option<Standby> {
    let mut fields = reader.fields(node, "emission in standby")?;
    let (from, to) = (fields.required(reader, "from"), fields.required(reader, "to"));
    let ceiling = ceiling::read(reader, &mut fields, ("measure.standby", "limit"), None, shelf);
    let path = fields.maybe(reader, "path", |reader, node| {
        Some((reader.text(node, "the name of a path")?.to_owned(), node.span))
    });
    fields.close(reader);
    let from = from.and_then(|node| reader.parse::<Hertz>(node, "a frequency"));
    let to_node = to;
    let to = to.and_then(|node| reader.parse::<Hertz>(node, "a frequency"));
    let (from, to) = (from?, to?);
    let range = Range::new(from, to).filter(|_| from < to);
    if range.is_none() {
        reader
            .mistake(
                to_node.map_or(node.span, |node| node.span),
                format!("expected more than {from}, found {to}"),
            )
            .hint("write the lower frequency under `from`");
    }
    Some(Standby { range: range?, span: node.span, ceiling: ceiling?, path: path? })
}
