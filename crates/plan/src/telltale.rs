//! Which kind of file a text is, for the message when it is another one than was due.

use spurline_document::{Document, Node, Reader};

/// The kinds of file that people write, each with the key that holds its title and one that no other kind has.
const KINDS: [(&str, &str, &str); 4] = [
    ("plan", "plan", "channels"),
    ("bench", "bench", "branches"),
    ("profile", "profile", "commands"),
    ("rule", "rule", "paragraphs"),
];

/// Notes that a file is of another kind than the one that is due; `None` when it did.
pub(crate) fn is_of_kind(reader: &mut Reader, document: &Document, due: &str) -> Option<()> {
    let root = &document.root;
    let has = |kind: &(&str, &str, &str)| root.get(kind.1).is_some() && root.get(kind.2).is_some();
    let Some((other, _, telltale)) = KINDS.iter().find(|kind| kind.0 != due && has(kind)) else {
        return Some(());
    };
    if KINDS.iter().any(|kind| kind.0 == due && has(kind)) {
        return Some(());
    }
    let span = root.get(telltale).map_or(root.span, |node: &Node| node.span);
    reader
        .mistake(span, format!("expected a {due}, found a {other}: only a {other} has `{telltale}`"))
        .hint(format!("name a file that is a {due}"));
    None
}
