//! Small readers that every part of the bench shares: with a default, within bounds, in a list.

use std::error::Error;
use std::fmt::Display;
use std::str::FromStr;

use spurline_clock::Pace;
use spurline_document::{Fields, Node, Reader, Value};
use spurline_units::Hertz;

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
    fields.or(reader, key, |reader, node| from(reader, node, key, least), default)
}

/// A quantity of at least `least` under a key that must be there.
pub(super) fn required_from<T>(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    least: T,
) -> Option<T>
where
    T: FromStr + PartialOrd + Copy + Display,
    T::Err: Error,
{
    let node = fields.required(reader, key)?;
    from(reader, node, key, least)
}

/// A quantity above `bound` under a key that must be there.
pub(super) fn required_above<T>(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    bound: T,
) -> Option<T>
where
    T: FromStr + PartialOrd + Copy + Display,
    T::Err: Error,
{
    let node = fields.required(reader, key)?;
    above(reader, node, key, bound)
}

fn from<T>(reader: &mut Reader, node: &Node, what: &str, least: T) -> Option<T>
where
    T: FromStr + PartialOrd + Copy + Display,
    T::Err: Error,
{
    let value: T = reader.parse(node, what)?;
    if value < least {
        reader.mistake(node.span, format!("expected at least {least}, found {value}"));
        return None;
    }
    Some(value)
}

/// A quantity above `bound`.
pub(super) fn above<T>(reader: &mut Reader, node: &Node, what: &str, bound: T) -> Option<T>
where
    T: FromStr + PartialOrd + Copy + Display,
    T::Err: Error,
{
    let value: T = reader.parse(node, what)?;
    if value <= bound {
        reader.mistake(node.span, format!("expected more than {bound}, found {value}"));
        return None;
    }
    Some(value)
}

/// A frequency of either sign, in hertz.
pub(super) fn signed_frequency(reader: &mut Reader, node: &Node) -> Option<f64> {
    let text = reader.text(node, "an offset")?;
    let (sign, size) = match text.strip_prefix(['-', '\u{2212}']) {
        // Behind a minus the number begins at once, or it would be one with two signs.
        Some(size) if size.starts_with(|c: char| c.is_ascii_digit() || c == '.') => (-1.0, size),
        Some(_) => {
            reader.mistake(node.span, format!("expected an offset such as `-21.4 MHz`, found `{text}`"));
            return None;
        }
        None => (1.0, text),
    };
    match size.parse::<Hertz>() {
        Ok(hertz) => Some(sign * hertz.get()),
        Err(error) => {
            reader.error(node.span, &error);
            None
        }
    }
}

/// A standing wave ratio.
pub(super) fn ratio_of_waves(reader: &mut Reader, node: &Node) -> Option<f64> {
    let ratio = reader.number(node, "a standing wave ratio")?;
    if (1.0..=100.0).contains(&ratio) {
        return Some(ratio);
    }
    reader.mistake(node.span, format!("expected a standing wave ratio from 1 to 100, found `{ratio}`"));
    None
}

/// All items of a list of at most `most`.
pub(super) fn some<T>(
    reader: &mut Reader,
    node: &Node,
    what: &str,
    most: usize,
    read: impl FnMut(&mut Reader, &Node) -> Option<T>,
) -> Option<Vec<T>> {
    let found = reader.list(node, what)?.len();
    if found > most {
        reader.mistake(node.span, format!("expected at most {most} in {what}, found {found}"));
        return None;
    }
    all(reader, node, what, read)
}

/// A standing wave ratio under a key, else `default`.
pub(super) fn vswr(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    default: f64,
) -> Option<f64> {
    fields.or(reader, key, ratio_of_waves, default)
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
