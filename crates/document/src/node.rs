//! The tree: scalars as they were written, lists, maps, and where each stands.

use std::ops::Range;
use std::sync::Arc;

/// A named text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    name: Arc<str>,
    text: Arc<str>,
}

impl Source {
    /// Names a text; the name is what a message shows, usually the path as the user wrote it.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> Self {
        Self { name: name.into(), text: text.into() }
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Line and column of a place, both from 1, the column in characters.
    #[must_use]
    pub fn line_and_column(&self, span: Span) -> (usize, usize) {
        let before = self.text.get(..span.start).unwrap_or(&self.text);
        let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
        let column = before.rsplit('\n').next().map_or(0, |tail| tail.chars().count()) + 1;
        (line, column)
    }
}

/// A stretch of a text, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The first byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    pub(crate) fn range(self) -> Range<usize> {
        self.start..self.end
    }
}

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    /// Where the value stands.
    pub span: Span,
    /// The value.
    pub value: Value,
}

impl Node {
    /// The text of a single value, if this is one.
    #[must_use]
    pub fn scalar(&self) -> Option<&str> {
        match &self.value {
            Value::Scalar(text) => Some(text),
            Value::Empty | Value::List(_) | Value::Map(_) => None,
        }
    }

    /// What stands under a key, if this is a map that has it. For reading a whole map there is
    /// [`Fields`](crate::Fields).
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Self> {
        match &self.value {
            Value::Map(entries) => entries.iter().find(|entry| entry.key == key).map(|entry| &entry.node),
            Value::Empty | Value::Scalar(_) | Value::List(_) => None,
        }
    }

    /// What stands in it, if this is a list; nothing otherwise.
    #[must_use]
    pub fn items(&self) -> &[Self] {
        match &self.value {
            Value::List(items) => items,
            Value::Empty | Value::Scalar(_) | Value::Map(_) => &[],
        }
    }
}

/// What a node holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// Nothing was written.
    Empty,
    /// A word, a number, a quantity: the text as written, without quotes.
    Scalar(String),
    /// A list.
    List(Vec<Node>),
    /// Keys and their values, in the order of the file.
    Map(Vec<Entry>),
}

/// One key of a map.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_span: Span,
    /// What it holds.
    pub node: Node,
}

/// A parsed text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    /// The text it came from.
    pub source: Source,
    /// The outermost value.
    pub root: Node,
}

impl Value {
    /// What kind of thing this is, for a message.
    pub(crate) const fn kind(&self) -> &'static str {
        match self {
            Self::Empty => "nothing",
            Self::Scalar(_) => "a single value",
            Self::List(_) => "a list",
            Self::Map(_) => "keys with values",
        }
    }
}
