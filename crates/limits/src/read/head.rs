//! What every file of a regulation begins with.

use spurline_document::{Fields, Node, Reader};

use super::text;
use crate::finding::Status;
use crate::head::Head;

/// Takes name, title, source, edition and status; the name stands under the key that also says what kind of file it is.
pub(super) fn head(reader: &mut Reader, fields: &mut Fields<'_>, kind: &'static str) -> Option<Head> {
    let name = fields.required(reader, kind).and_then(|node| name(reader, node));
    let title = text(reader, fields, "title");
    let source = text(reader, fields, "source");
    let edition = text(reader, fields, "edition");
    let status = fields.required(reader, "status");
    let status = status.and_then(|node| reader.choice(node, "a status", Status::WORDS));
    Some(Head { name: name?, title: title?, source: source?, edition: edition?, status: status? })
}

fn name(reader: &mut Reader, node: &Node) -> Option<String> {
    let text = reader.text(node, "a name")?;
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if text.chars().all(plain) {
        return Some(text.to_owned());
    }
    reader
        .mistake(node.span, format!("expected a name of small letters, digits and `-`, found `{text}`"))
        .hint("the name is also that of the file, without `.yaml`");
    None
}
