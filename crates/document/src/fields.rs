//! The keys of one map: asked for by name, and what nobody asked for is a mistake.

use crate::node::{Entry, Node, Span};
use crate::reader::{Noted, Reader, nearest};

/// The keys of one map while it is being read.
///
/// Ask for every key that means something, then call [`Fields::close`]: an unknown key would silently change
/// what is measured, so it is a mistake.
#[derive(Debug)]
pub struct Fields<'n> {
    span: Span,
    entries: &'n [Entry],
    what: &'static str,
    known: Vec<&'static str>,
    /// Keys that are missing, and which mistake says so.
    missing: Vec<(&'static str, Noted)>,
}

impl<'n> Fields<'n> {
    pub(crate) fn new(span: Span, entries: &'n [Entry], what: &'static str) -> Self {
        Self { span, entries, what, known: Vec::new(), missing: Vec::new() }
    }

    /// Where the map stands.
    #[must_use]
    pub fn span(&self) -> Span {
        self.span
    }

    /// The value of a key that may be missing.
    pub fn optional(&mut self, key: &'static str) -> Option<&'n Node> {
        self.known.push(key);
        self.entries.iter().find(|entry| entry.key == key).map(|entry| &entry.node)
    }

    /// What a key holds if it is there, as an option within the option: the outer one is `None` when the key is
    /// there and a mistake was noted in it.
    pub fn maybe<T>(
        &mut self,
        reader: &mut Reader,
        key: &'static str,
        read: impl FnOnce(&mut Reader, &'n Node) -> Option<T>,
    ) -> Option<Option<T>> {
        match self.optional(key) {
            Some(node) => read(reader, node).map(Some),
            None => Some(None),
        }
    }

    /// What a key holds if it is there, else `default`; `None` when a mistake was noted in it.
    pub fn or<T>(
        &mut self,
        reader: &mut Reader,
        key: &'static str,
        read: impl FnOnce(&mut Reader, &'n Node) -> Option<T>,
        default: T,
    ) -> Option<T> {
        match self.optional(key) {
            Some(node) => read(reader, node),
            None => Some(default),
        }
    }

    /// The value of a key that must be there.
    pub fn required(&mut self, reader: &mut Reader, key: &'static str) -> Option<&'n Node> {
        let node = self.optional(key);
        if node.is_none() {
            let noted = reader.note(self.head(), format!("the key `{key}` is missing in {}", self.what));
            self.missing.push((key, noted));
        }
        node
    }

    /// Of several keys exactly one must be there; its name and value.
    pub fn one_of(&mut self, reader: &mut Reader, keys: &[&'static str]) -> Option<(&'static str, &'n Node)> {
        let found: Vec<_> =
            keys.iter().filter_map(|key| self.optional(key).map(|node| (*key, node))).collect();
        match found.as_slice() {
            [one] => Some(*one),
            several => {
                let count = if several.is_empty() { "none of them" } else { "more than one" };
                let list = keys.join("`, `");
                let message = format!("expected one of the keys `{list}` in {}, found {count}", self.what);
                reader
                    .mistake(self.head(), message)
                    .hint(format!("write just one of them: {}", keys.join(", ")));
                None
            }
        }
    }

    /// All keys as they stand, for maps whose keys are the user's own words.
    #[must_use]
    pub fn entries(&self) -> &'n [Entry] {
        self.entries
    }

    /// Notes every key that was not asked for. A key that is missing because it was mistyped is told once.
    pub fn close(self, reader: &mut Reader) {
        for (key, noted) in &self.missing {
            let unknown = self.entries.iter().map(|entry| entry.key.as_str());
            let unknown = unknown.filter(|word| !self.known.contains(word));
            let mistyped = unknown.filter(|word| nearest(word, &self.known) == Some(*key)).count() > 0;
            if mistyped {
                reader.retract(*noted);
            } else {
                reader.hint(*noted, format!("keys of {}: {}", self.what, self.known.join(", ")));
            }
        }
        for entry in self.entries.iter().filter(|entry| !self.known.contains(&entry.key.as_str())) {
            let near = nearest(&entry.key, &self.known);
            let mistake =
                reader.mistake(entry.key_span, format!("`{}` is not a key of {}", entry.key, self.what));
            match near {
                Some(word) => mistake.hint(format!("did you mean `{word}`?")),
                None => mistake.hint(format!("keys known here: {}", self.known.join(", "))),
            }
        }
    }

    /// The first key, so that a message about the whole map marks one line and not all of it.
    fn head(&self) -> Span {
        self.entries.first().map_or(self.span, |entry| entry.key_span)
    }
}

#[cfg(test)]
mod tests;
