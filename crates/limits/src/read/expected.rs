//! What a rule file says is meant so, however odd it looks.

use spurline_document::{Node, Reader};

use super::{each, text};
use crate::lint::{Expected, Flaw};

pub(super) fn expected(reader: &mut Reader, node: &Node) -> Option<Expected> {
    let mut fields = reader.fields(node, "something expected")?;
    let flaw = fields.required(reader, "finding");
    let flaw = flaw.and_then(|node| reader.choice(node, "a kind of finding", Flaw::WORDS));
    let read = |reader: &mut Reader, node: &Node| reader.text(node, "a paragraph").map(str::to_owned);
    let paragraph = fields.maybe(reader, "paragraph", read);
    let at = match fields.optional("at") {
        None => Some(Vec::new()),
        Some(node) => {
            each(reader, node, "the places", |reader, node| reader.text(node, "a place").map(str::to_owned))
        }
    };
    let because = text(reader, &mut fields, "because");
    fields.close(reader);
    Some(Expected { flaw: flaw?, paragraph: paragraph?, at: at?, because: because? })
}
