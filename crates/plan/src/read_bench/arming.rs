//! What a person states about a bench before it may key.

use spurline_document::{Node, Reader};

/// `removed`: nothing but the bench supply feeds the unit.
pub(super) fn read_battery(reader: &mut Reader, node: &Node) -> Option<bool> {
    reader.choice(node, "what became of the unit's battery", &[("removed", true)])
}
