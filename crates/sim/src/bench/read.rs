//! Small readers that every part of the bench shares: with a default, within bounds, in a list.

use std::error::Error;
use std::fmt::Display;
use std::str::FromStr;

use spurline_clock::Pace;
use spurline_document::{Fields, Node, Reader, Value};

/// A quantity under a key, else `default`.
pub(super) fn quantity<T>(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    default: T,
) -> Option<T>
where
    T: FromStr,
    T::Err: Error,
{
    fields.or(reader, key, |reader, node| reader.parse(node, key), default)
}

/// A quantity of at least `least` under a key, else `default`.
pub(super) fn at_least<T>(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    least: T,
    default: T,
) -> Option<T>
where
    T: FromStr + PartialOrd + Copy + Display,
    T::Err: Error,
{
    let read = |reader: &mut Reader, node: &Node| {
        let value: T = reader.parse(node, key)?;
        if value < least {
            reader.mistake(node.span, format!("expected at least {least}, found {value}"));
            return None;
        }
        Some(value)
    };
    fields.or(reader, key, read, default)
}

/// A standing wave ratio under a key, else `default`.
pub(super) fn vswr(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    default: f64,
) -> Option<f64> {
    let Some(node) = fields.optional(key) else { return Some(default) };
    let ratio = reader.number(node, "a standing wave ratio")?;
    if (1.0..=100.0).contains(&ratio) {
        return Some(ratio);
    }
    reader.mistake(node.span, format!("expected a standing wave ratio from 1 to 100, found `{ratio}`"));
    None
}

/// All items of a list; every item is read even after a mistake.
pub(super) fn all<T>(
    reader: &mut Reader,
    node: &Node,
    what: &str,
    mut read: impl FnMut(&mut Reader, &Node) -> Option<T>,
) -> Option<Vec<T>> {
    let items: Vec<Option<T>> = reader.list(node, what)?.iter().map(|item| read(reader, item)).collect();
    items.into_iter().collect()
}

/// A map whose keys are the user's own words, in the order of the file.
pub(super) fn named<T>(
    reader: &mut Reader,
    node: &Node,
    what: &'static str,
    mut read: impl FnMut(&mut Reader, &str, &Node) -> Option<T>,
) -> Option<Vec<T>> {
    if node.value == Value::Empty {
        return Some(Vec::new());
    }
    let fields = reader.fields(node, what)?;
    let entries: Vec<Option<T>> =
        fields.entries().iter().map(|entry| read(reader, &entry.key, &entry.node)).collect();
    entries.into_iter().collect()
}

/// A count.
pub(super) fn count(reader: &mut Reader, node: &Node) -> Option<u32> {
    reader.whole(node, "a number", 0, u32::MAX)
}

/// How time passes.
pub(super) fn pace(reader: &mut Reader, node: &Node) -> Option<Pace> {
    reader.choice(node, "a clock", &[("fast", Pace::Fast), ("real", Pace::Real)])
}
