//! Conditions: which subject, which word, which boundary.

use spurline_document::{Entry, Node, Reader};

use crate::comparison::{DATE_WORDS, QUANTITY_WORDS};
use crate::condition::{AUTHORISED_BANDWIDTH, Condition, Relation, Subject, Test};
use crate::fact::Fact;
use crate::value::{Kind, Value, parse_day};

/// Reads a map of subjects, each with its tests, all of which must hold; under `any`, one of several such maps.
pub(super) fn condition(reader: &mut Reader, node: &Node, facts: &[Fact]) -> Option<Condition> {
    let entries = reader.fields(node, "a condition")?.entries();
    let parts: Vec<Option<Condition>> = entries
        .iter()
        .map(|entry| match entry.key.as_str() {
            "any" => super::each(reader, &entry.node, "the cases of `any`", |r, n| condition(r, n, facts))
                .map(Condition::Any),
            _ => tests(reader, entry, facts),
        })
        .collect();
    joined(reader, node, parts)
}

fn joined(reader: &mut Reader, node: &Node, parts: Vec<Option<Condition>>) -> Option<Condition> {
    if parts.is_empty() {
        reader
            .mistake(node.span, "expected at least one test, found none")
            .hint("leave the key out if it always holds");
        return None;
    }
    let mut parts = parts.into_iter().collect::<Option<Vec<_>>>()?;
    if parts.len() == 1 { parts.pop() } else { Some(Condition::All(parts)) }
}

fn tests(reader: &mut Reader, entry: &Entry, facts: &[Fact]) -> Option<Condition> {
    let fact = facts.iter().find(|fact| fact.name() == entry.key);
    let (subject, kind) = match (entry.key.as_str(), fact) {
        ("carrier", _) => (Subject::Carrier, Kind::Frequency),
        ("power", _) => (Subject::Power, Kind::Power),
        ("emission", _) => (Subject::Emission, Kind::Frequency),
        ("offset", _) => (Subject::Offset, Kind::Frequency),
        ("offset_share", _) => {
            if !facts.iter().any(|fact| fact.name() == AUTHORISED_BANDWIDTH) {
                reader
                    .mistake(
                        entry.key_span,
                        format!("`offset_share` is of the fact `{AUTHORISED_BANDWIDTH}`"),
                    )
                    .hint("declare it under `facts`, of kind frequency");
                return None;
            }
            return figures(reader, entry, Subject::OffsetShare, share);
        }
        ("harmonic", _) => return figures(reader, entry, Subject::Multiple, multiple),
        (_, Some(fact)) => (Subject::Fact(fact.name().to_owned()), fact.kind()),
        (unknown, None) => {
            let known = facts.iter().map(Fact::name).collect::<Vec<_>>();
            let known = ["carrier", "power", "emission", "offset", "offset_share", "harmonic", "any"]
                .into_iter()
                .chain(known)
                .collect::<Vec<_>>();
            reader
                .mistake(entry.key_span, format!("`{unknown}` is nothing that a condition can look at"))
                .hint(format!("known here: {}; other facts are declared under `facts`", known.join(", ")));
            return None;
        }
    };
    let entries = reader.fields(&entry.node, "a test")?.entries();
    let words = fact.map_or(&[][..], Fact::words);
    let parts: Vec<Option<Condition>> = entries
        .iter()
        .map(|entry| {
            let relation = relation(reader, entry, kind, words)?;
            Some(Condition::Test(Test { subject: subject.clone(), relation }))
        })
        .collect();
    joined(reader, &entry.node, parts)
}

/// Tests on a figure that is worked out.
fn figures(
    reader: &mut Reader,
    entry: &Entry,
    subject: Subject,
    read: fn(&mut Reader, &Node) -> Option<Value>,
) -> Option<Condition> {
    let entries = reader.fields(&entry.node, "a test")?.entries();
    let parts: Vec<Option<Condition>> = entries
        .iter()
        .map(|entry| {
            let Some((_, comparison)) = QUANTITY_WORDS.iter().find(|(word, _)| *word == entry.key) else {
                let known = QUANTITY_WORDS.iter().map(|(word, _)| *word).collect::<Vec<_>>();
                reader
                    .mistake(entry.key_span, format!("a figure is not compared by `{}`", entry.key))
                    .hint(format!("known here: {}", known.join(", ")));
                return None;
            };
            let relation = Relation::Order(*comparison, read(reader, &entry.node)?);
            Some(Condition::Test(Test { subject: subject.clone(), relation }))
        })
        .collect();
    joined(reader, &entry.node, parts)
}

/// `250 %`.
fn share(reader: &mut Reader, node: &Node) -> Option<Value> {
    let text = reader.text(node, "a share such as `250 %`")?;
    let share = text.strip_suffix('%').and_then(|figure| figure.trim().parse::<f64>().ok());
    if let Some(share) = share.filter(|share| *share > 0.0 && share.is_finite()) {
        return Some(Value::Share(share));
    }
    reader.mistake(node.span, format!("expected a share above zero such as `250 %`, found `{text}`"));
    None
}

fn multiple(reader: &mut Reader, node: &Node) -> Option<Value> {
    let multiple = reader.number(node, "a multiple of the carrier")?;
    if multiple > 0.0 {
        return Some(Value::Multiple(multiple));
    }
    reader.mistake(node.span, format!("expected a multiple above zero, found {multiple}"));
    None
}

fn relation(reader: &mut Reader, entry: &Entry, kind: Kind, words: &[String]) -> Option<Relation> {
    let comparisons = match kind {
        Kind::Date => DATE_WORDS,
        Kind::Power | Kind::Frequency => QUANTITY_WORDS,
        Kind::Word => return among(reader, entry, words),
    };
    let Some((_, comparison)) = comparisons.iter().find(|(word, _)| *word == entry.key) else {
        let known = comparisons.iter().map(|(word, _)| *word).collect::<Vec<_>>();
        note_unknown(reader, entry, kind, &known);
        return None;
    };
    bound(reader, &entry.node, kind).map(|bound| Relation::Order(*comparison, bound))
}

fn among(reader: &mut Reader, entry: &Entry, words: &[String]) -> Option<Relation> {
    let known: Vec<(&str, &str)> = words.iter().map(|word| (word.as_str(), word.as_str())).collect();
    let word = |reader: &mut Reader, node: &Node| {
        reader.choice(node, "a word of this fact", &known).map(str::to_owned)
    };
    match entry.key.as_str() {
        "is" => word(reader, &entry.node).map(|word| Relation::Among(vec![word])),
        "one_of" => super::each(reader, &entry.node, "words", word).map(Relation::Among),
        _ => {
            note_unknown(reader, entry, Kind::Word, &["is", "one_of"]);
            None
        }
    }
}

fn note_unknown(reader: &mut Reader, entry: &Entry, kind: Kind, known: &[&str]) {
    reader
        .mistake(entry.key_span, format!("a {kind} is not compared by `{}`", entry.key))
        .hint(format!("known here: {}", known.join(", ")));
}

fn bound(reader: &mut Reader, node: &Node, kind: Kind) -> Option<Value> {
    match kind {
        Kind::Frequency => reader.parse(node, "a frequency").map(Value::Frequency),
        Kind::Power => super::expression::power(reader, node).map(|(power, _)| Value::Power(power)),
        Kind::Date => {
            let text = reader.text(node, "a day")?;
            let day = parse_day(text);
            if day.is_none() {
                reader.mistake(node.span, format!("expected a day as `YYYY-MM-DD`, found `{text}`"));
            }
            day.map(Value::day)
        }
        Kind::Word => None,
    }
}
