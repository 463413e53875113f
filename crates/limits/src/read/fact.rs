//! The facts that a rule declares.

use spurline_document::{Entry, Fields, Node, Reader};

use crate::fact::{Default, Fact, common_kind};
use crate::value::Kind;

/// Names that conditions and formulas already use.
const TAKEN: &[&str] = &["carrier", "power", "emission", "offset", "offset_share", "harmonic", "at", "any"];

pub(super) fn facts(reader: &mut Reader, node: &Node) -> Option<Vec<Fact>> {
    let entries = reader.fields(node, "the facts")?.entries();
    let read: Vec<Option<Fact>> = entries.iter().map(|entry| fact(reader, entry)).collect();
    read.into_iter().collect()
}

fn fact(reader: &mut Reader, entry: &Entry) -> Option<Fact> {
    let name = name(reader, entry);
    let mut fields = reader.fields(&entry.node, "a fact")?;
    let kind = fields.required(reader, "kind").and_then(|node| kind(reader, node, &entry.key));
    let meaning = super::text(reader, &mut fields, "meaning");
    let words = words(reader, &mut fields, kind);
    let default = default(reader, &mut fields, kind, words.as_deref().unwrap_or_default());
    fields.close(reader);
    Some(Fact { name: name?, kind: kind?, meaning: meaning?, words: words?, default: default? })
}

fn name(reader: &mut Reader, entry: &Entry) -> Option<String> {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    if TAKEN.contains(&entry.key.as_str()) {
        reader.mistake(entry.key_span, format!("the name `{}` is taken", entry.key));
        return None;
    }
    if !entry.key.chars().all(plain) || entry.key.is_empty() {
        let message = format!("expected a name of small letters, digits and `_`, found `{}`", entry.key);
        reader.mistake(entry.key_span, message);
        return None;
    }
    Some(entry.key.clone())
}

fn kind(reader: &mut Reader, node: &Node, name: &str) -> Option<Kind> {
    let kind = reader.choice(node, "a kind of fact", Kind::WORDS)?;
    match common_kind(name) {
        Some(common) if common != kind => {
            reader.mistake(node.span, format!("`{name}` is a {common} in every rule, found {kind}"));
            None
        }
        Some(_) | None => Some(kind),
    }
}

fn words(reader: &mut Reader, fields: &mut Fields<'_>, kind: Option<Kind>) -> Option<Vec<String>> {
    if kind != Some(Kind::Word) {
        return Some(Vec::new());
    }
    let node = fields.required(reader, "words")?;
    super::each(reader, node, "the words", |reader, node| reader.text(node, "a word").map(str::to_owned))
}

fn default(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    kind: Option<Kind>,
    words: &[String],
) -> Option<Option<Default>> {
    match kind {
        Some(Kind::Power) => fields.maybe(reader, "default", |reader, node| {
            reader.choice(node, "the default `power`", &[("power", ())]).map(|()| Default::MeanPower)
        }),
        Some(Kind::Word) => fields.maybe(reader, "default", |reader, node| {
            let known: Vec<(&str, &str)> = words.iter().map(|word| (word.as_str(), word.as_str())).collect();
            reader.choice(node, "one of the words", &known).map(|word| Default::Word(word.to_owned()))
        }),
        // A date has none: a day that nobody stated would be a guess.
        Some(Kind::Date | Kind::Frequency) | None => Some(None),
    }
}
