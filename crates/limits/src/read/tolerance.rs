//! Rows of frequency tolerances.

use spurline_document::{Node, Reader};

use super::{Scope, interpretations, text, when};
use crate::finding::Status;
use crate::tolerance::ToleranceRow;

pub(super) fn row(reader: &mut Reader, node: &Node, scope: &Scope<'_>) -> Option<ToleranceRow> {
    let mut fields = reader.fields(node, "a row of tolerances")?;
    let when = when(reader, &mut fields, "when", scope);
    let says = text(reader, &mut fields, "says");
    let source =
        fields.maybe(reader, "source", |reader, node| reader.text(node, "a source").map(str::to_owned));
    let status =
        fields.maybe(reader, "status", |reader, node| reader.choice(node, "a status", Status::WORDS));
    let interpretations = interpretations(reader, &mut fields, scope);
    let tolerance = fields.required(reader, "tolerance");
    let tolerance = tolerance.and_then(|node| reader.parse(node, "a tolerance"));
    fields.close(reader);
    Some(ToleranceRow {
        when: when?,
        says: says?,
        source: source?,
        status: status?,
        interpretations: interpretations?,
        tolerance: tolerance?,
    })
}
