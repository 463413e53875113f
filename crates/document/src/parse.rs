//! Text to tree: the one place that knows the YAML library.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_yaml::{DuplicateKeyPolicy, Location, Options, Spanned};

use crate::mistake::{Mistake, Mistakes};
use crate::node::{Document, Entry, Node, Source, Span, Value};
use crate::syntax::{self, advice};

impl Document {
    /// Parses one YAML text.
    ///
    /// Anchors, aliases, merge keys, a second document, doubled keys and texts over 1 MiB are refused: a file
    /// that a person reads needs none of them, and each can hide what it says.
    ///
    /// # Errors
    ///
    /// The first syntax error, with its place.
    pub fn parse(name: &str, text: &str) -> Result<Self, Mistakes> {
        if text.len() > LARGEST {
            return Err(too_large(name, text));
        }
        let source = Source::new(name, text);
        match serde_yaml::from_str_with_options::<Spanned<Content>>(text, options()) {
            Ok(root) => {
                let mut builder = Builder { source: source.clone(), mistakes: Mistakes::default() };
                let root = builder.node(root);
                if builder.mistakes.is_empty() { Ok(Self { source, root }) } else { Err(builder.mistakes) }
            }
            Err(error) => Err(syntax_mistake(&source, &error)),
        }
    }
}

/// Bytes of the largest text that is read: a thousand times what a person writes.
const LARGEST: usize = 1 << 20;

/// Shown without the text, of which a message would keep a copy.
fn too_large(name: &str, text: &str) -> Mistakes {
    let message = format!("expected a text of at most {LARGEST} bytes, found {} bytes", text.len());
    let mut mistakes = Mistakes::default();
    mistakes
        .push(Mistake::new(Source::new(name, ""), Span { start: 0, end: 0 }, message))
        .hint("is this the right file?");
    mistakes
}

fn options() -> Options {
    serde_yaml::options! {
        strict_booleans: true,
        with_snippet: false,
        // Doubled keys are told by the tree below, in words that help.
        duplicate_keys: DuplicateKeyPolicy::PassThrough,
        budget: serde_yaml::budget! {
            max_total_scalar_bytes: LARGEST,
            max_depth: 16,
            max_nodes: 20_000,
            max_anchors: 0,
            max_aliases: 0,
            max_merge_keys: 0,
            max_documents: 1,
        },
    }
}

fn syntax_mistake(source: &Source, error: &serde_yaml::Error) -> Mistakes {
    let span = error.location().map_or(Span { start: 0, end: 0 }, |location| span_of(source, location));
    let text = error.without_snippet().to_string();
    let message = text.lines().next().unwrap_or("not readable as YAML");
    // The library puts the place in front of or behind its message; ours is shown with the line itself.
    let message = message.strip_prefix("error: ").unwrap_or(message);
    let message = without_place(message);
    let mut mistakes = Mistakes::default();
    if message.starts_with("budget breached: ") {
        // The library names its own settings here, which nobody who writes a file can change.
        let message = "an anchor, an alias, a merge key, a second document, or too much text or depth";
        mistakes
            .push(Mistake::new(source.clone(), span, message.to_owned()))
            .hint("a file here needs none of them: write every value where it belongs");
    } else {
        // The library notices a tab only where the map ends that it stands in.
        let tab = syntax::first_tab(source.text()).filter(|tab| tab.start <= span.start);
        let span = tab.unwrap_or(span);
        let (line, _) = source.line_and_column(span);
        let advice = advice(message, source.text().lines().nth(line - 1).unwrap_or(""));
        // It says where it gave up, often at the end of the text: what was left open may stand far above.
        let opened = syntax::still_open(source.text(), span.start)
            .filter(|_| tab.is_none() && !advice.contains("quotation"));
        let advice = opened.map_or_else(
            || advice.to_owned(),
            |(sign, at)| {
                let (line, _) = source.line_and_column(Span { start: at, end: at + 1 });
                let close = if sign == '{' { '}' } else { ']' };
                format!("the `{sign}` of line {line} is not closed: close it with `{close}`")
            },
        );
        mistakes.push(Mistake::new(source.clone(), span, message.to_owned())).hint(advice);
    }
    mistakes
}

fn without_place(message: &str) -> &str {
    let message = match message.strip_prefix("line ").and_then(|rest| rest.split_once(": ")) {
        Some((place, rest)) if place.contains("column") => rest,
        _ => message,
    };
    message.split(" at line ").next().unwrap_or(message)
}

fn span_of(source: &Source, location: Location) -> Span {
    let text = source.text();
    let span = location.span();
    let byte = |offset: Option<u64>| offset.and_then(|n| usize::try_from(n).ok());
    let start = byte(span.byte_offset()).unwrap_or(text.len()).min(text.len());
    let length = byte(span.byte_len()).unwrap_or(0);
    let end = start.saturating_add(length).min(text.len());
    let covered = text.get(start..end).unwrap_or("");
    Span { start, end: start + covered.trim_end().len() }
}

/// What the library hands over, before spans are looked up.
enum Content {
    Empty,
    Scalar(String),
    /// A plain word that looks like a number or a boolean: its text is taken from the source.
    Plain,
    List(Vec<Spanned<Content>>),
    Map(Vec<(Spanned<String>, Spanned<Content>)>),
}

struct Builder {
    source: Source,
    mistakes: Mistakes,
}

impl Builder {
    fn node(&mut self, content: Spanned<Content>) -> Node {
        let span = span_of(&self.source, content.referenced);
        let value = match content.value {
            Content::Empty => Value::Empty,
            Content::Scalar(text) => Value::Scalar(text),
            Content::Plain => {
                Value::Scalar(self.source.text().get(span.range()).unwrap_or("").trim().to_owned())
            }
            Content::List(items) => Value::List(items.into_iter().map(|item| self.node(item)).collect()),
            Content::Map(entries) => Value::Map(self.entries(entries)),
        };
        Node { span, value }
    }

    fn entries(&mut self, entries: Vec<(Spanned<String>, Spanned<Content>)>) -> Vec<Entry> {
        let mut read: Vec<Entry> = Vec::with_capacity(entries.len());
        for (key, content) in entries {
            let key_span = span_of(&self.source, key.referenced);
            let node = self.node(content);
            if read.iter().any(|entry| entry.key == key.value) {
                let message = format!("the key `{}` stands here twice", key.value);
                self.mistakes
                    .push(Mistake::new(self.source.clone(), key_span, message))
                    .hint("remove one of the two");
            }
            read.push(Entry { key: key.value, key_span, node });
        }
        read
    }
}

impl<'de> Deserialize<'de> for Content {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ContentVisitor)
    }
}

struct ContentVisitor;

impl<'de> Visitor<'de> for ContentVisitor {
    type Value = Content;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value, a list or keys with values")
    }

    fn visit_unit<E>(self) -> Result<Content, E> {
        Ok(Content::Empty)
    }

    fn visit_none<E>(self) -> Result<Content, E> {
        Ok(Content::Empty)
    }

    fn visit_bool<E>(self, _: bool) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_i64<E>(self, _: i64) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_u64<E>(self, _: u64) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_i128<E>(self, _: i128) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_u128<E>(self, _: u128) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_f64<E>(self, _: f64) -> Result<Content, E> {
        Ok(Content::Plain)
    }

    fn visit_str<E>(self, text: &str) -> Result<Content, E> {
        Ok(Content::Scalar(text.to_owned()))
    }

    fn visit_string<E>(self, text: String) -> Result<Content, E> {
        Ok(Content::Scalar(text))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Content, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = list.next_element()? {
            items.push(item);
        }
        Ok(Content::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Content, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = map.next_entry()? {
            entries.push(entry);
        }
        Ok(Content::Map(entries))
    }
}
