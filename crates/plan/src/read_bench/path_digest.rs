//! What a bench says of its path, as one short word: a proof holds for the path that it was made on, and no other.

use std::fmt::Write;

use sha2::{Digest, Sha256};
use spurline_document::{Node, Value};
use spurline_record::{SourceText, TextRole};

/// SHA-256, in hexadecimal, over the keys of a bench that say how its path is made, and the tables that they name. How a
/// file is set out, and what it says of anything else, makes no difference.
pub(super) fn of<'a>(keys: impl IntoIterator<Item = Option<&'a Node>>, texts: &[SourceText]) -> String {
    let mut digest = Sha256::new();
    for key in keys {
        match key {
            Some(node) => add(&mut digest, node),
            None => part(&mut digest, "absent", ""),
        }
    }
    for table in texts.iter().filter(|text| text.role == TextRole::Path) {
        part(&mut digest, "table", &table.text);
    }
    digest.finalize().iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        let _written = write!(text, "{byte:02x}");
        text
    })
}

fn add(digest: &mut Sha256, node: &Node) {
    match &node.value {
        Value::Empty => part(digest, "empty", ""),
        Value::Scalar(text) => part(digest, "scalar", text),
        Value::List(items) => {
            part(digest, "list", &items.len().to_string());
            items.iter().for_each(|item| add(digest, item));
        }
        Value::Map(entries) => {
            part(digest, "map", &entries.len().to_string());
            for entry in entries {
                part(digest, "key", &entry.key);
                add(digest, &entry.node);
            }
        }
    }
}

/// A kind and a text, each with its length before it, so that no two rows of parts are alike.
fn part(digest: &mut Sha256, kind: &str, text: &str) {
    for text in [kind, text] {
        digest.update((text.len() as u64).to_be_bytes());
        digest.update(text.as_bytes());
    }
}

#[cfg(test)]
mod tests {
    use spurline_document::Document;

    use super::*;

    fn digest(bench: &str, table: &str) -> String {
        let document = Document::parse("bench.yaml", bench).unwrap();
        let table = SourceText { role: TextRole::Path, name: "a.yaml".to_owned(), text: table.to_owned() };
        of([Some(&document.root), None], &[table])
    }

    #[test]
    fn only_what_is_said_counts() {
        let was = digest("common: [ { attenuator: 30 dB } ]\n", "1");
        assert_eq!(was.len(), 64);
        assert_eq!(was, digest("# a word\ncommon:\n  - attenuator: 30 dB\n", "1"));
        assert_ne!(was, digest("common: [ { attenuator: 20 dB } ]\n", "1"));
        assert_ne!(was, digest("common: [ { attenuator: 30 dB } ]\n", "2"));
        assert_ne!(was, digest("common: [ { attenuator: 30 dB }, { attenuator: 30 dB } ]\n", "1"));
    }
}
