//! `SYSTem:HELP:HEADers?`: the instrument tells what it understands.

use bytes::Bytes;
use spurline_scpi::Element;

use crate::instruments::call::Reply;

/// A block with one line for each header (SCPI-1999 volume 2, clause 21.11, from memory): `/qonly/` marks what can only
/// be asked, `/nquery/` what cannot be asked.
pub(crate) fn headers<'p, C>(patterns: impl Iterator<Item = &'p str>) -> Reply<C> {
    let line = |pattern: &str| match (pattern.strip_suffix("[?]"), pattern.strip_suffix('?')) {
        (Some(header), _) => format!("{header}\n"),
        (None, Some(header)) => format!("{header}/qonly/\n"),
        (None, None) => format!("{pattern}/nquery/\n"),
    };
    let text: String = patterns.map(line).collect();
    Reply::Answer(Element::Block(Bytes::from(text)).into())
}
