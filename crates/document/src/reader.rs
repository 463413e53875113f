//! Nodes to typed values, noting every mistake on the way.

use std::error::Error;
use std::str::FromStr;

use crate::fields::Fields;
use crate::mistake::{Mistake, Mistakes};
use crate::node::{Document, Node, Source, Span, Value};

/// Reads one document and collects what is wrong with it.
///
/// Every method that returns an `Option` has noted a mistake when it returns `None`; the caller goes on with
/// what it can, and [`Reader::finish`] tells in the end whether the values may be used.
#[derive(Debug)]
pub struct Reader {
    source: Source,
    mistakes: Mistakes,
    /// Mistakes that turned out to be another one's shadow.
    retracted: Vec<Noted>,
}

/// Which mistake: its place in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Noted(usize);

impl Reader {
    /// A reader for the nodes of `document`.
    #[must_use]
    pub fn new(document: &Document) -> Self {
        Self { source: document.source.clone(), mistakes: Mistakes::default(), retracted: Vec::new() }
    }

    /// The text that is being read.
    #[must_use]
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// Notes a mistake at a place; the returned value takes a hint.
    pub fn mistake(&mut self, span: Span, message: impl Into<String>) -> &mut Mistake {
        self.mistakes.push(Mistake::new(self.source.clone(), span, message.into()))
    }

    /// Notes a mistake that may be retracted or given a hint later.
    pub(crate) fn note(&mut self, span: Span, message: String) -> Noted {
        self.mistake(span, message);
        Noted(self.mistakes.all().len() - 1)
    }

    /// Takes a mistake back: another one says the same better.
    pub(crate) fn retract(&mut self, noted: Noted) {
        self.retracted.push(noted);
    }

    /// Adds what to do about a mistake.
    pub(crate) fn hint(&mut self, noted: Noted, hint: String) {
        if let Some(mistake) = self.mistakes.get_mut(noted.0) {
            mistake.hint(hint);
        }
    }

    /// The value of another document that this one led to, or its mistakes taken in.
    pub fn adopt<T>(&mut self, other: Result<T, Mistakes>) -> Option<T> {
        match other {
            Ok(value) => Some(value),
            Err(mistakes) => {
                self.mistakes.append(mistakes);
                None
            }
        }
    }

    /// Notes an error at a place; what stands on the second line of its message becomes the hint.
    pub fn error(&mut self, span: Span, error: &dyn Error) {
        let text = error.to_string();
        let (message, hint) = text.split_once('\n').map_or((text.as_str(), None), |(m, h)| (m, Some(h)));
        let mistake = self.mistake(span, message);
        if let Some(hint) = hint {
            mistake.hint(hint);
        }
    }

    /// The keys of a map; `what` names it in messages, for example `a channel`.
    pub fn fields<'n>(&mut self, node: &'n Node, what: &'static str) -> Option<Fields<'n>> {
        match &node.value {
            Value::Map(entries) => Some(Fields::new(node.span, entries, what)),
            other @ (Value::Empty | Value::Scalar(_) | Value::List(_)) => {
                self.mistake(node.span, format!("expected the keys of {what}, found {}", other.kind()))
                    .hint("write `key: value`, one per line and indented, or all in `{ }`");
                None
            }
        }
    }

    /// The items of a list; `what` names the list in messages.
    pub fn list<'n>(&mut self, node: &'n Node, what: &str) -> Option<&'n [Node]> {
        match &node.value {
            Value::List(items) => Some(items),
            other @ (Value::Empty | Value::Scalar(_) | Value::Map(_)) => {
                self.mistake(node.span, format!("expected {what} as a list, found {}", other.kind()))
                    .hint("write it as `[ first, second ]` or with one `- ` per line");
                None
            }
        }
    }

    /// The text of a single value.
    pub fn text<'n>(&mut self, node: &'n Node, what: &str) -> Option<&'n str> {
        match &node.value {
            Value::Scalar(text) if text.trim().contains(char::is_control) => {
                self.mistake(
                    node.span,
                    format!("expected {what} on one line, found a line break or a control character"),
                )
                .hint("write it as plain text");
                None
            }
            Value::Scalar(text) if !text.trim().is_empty() => Some(text.trim()),
            other @ (Value::Empty | Value::Scalar(_) | Value::List(_) | Value::Map(_)) => {
                let found = if matches!(other, Value::Scalar(_)) { "an empty text" } else { other.kind() };
                self.mistake(node.span, format!("expected {what}, found {found}"))
                    .hint("write a single value behind the key");
                None
            }
        }
    }

    /// A single value of any type that reads from text, such as a quantity.
    pub fn parse<T>(&mut self, node: &Node, what: &str) -> Option<T>
    where
        T: FromStr,
        T::Err: Error,
    {
        let text = self.text(node, what)?;
        match text.parse() {
            Ok(value) => Some(value),
            Err(error) => {
                self.error(node.span, &error);
                None
            }
        }
    }

    /// A whole number within bounds, both included.
    pub fn whole(&mut self, node: &Node, what: &str, low: u32, high: u32) -> Option<u32> {
        let text = self.text(node, what)?;
        let value = text.parse::<u32>().ok().filter(|n| (low..=high).contains(n));
        if value.is_none() {
            self.mistake(node.span, format!("expected {what} from {low} to {high}, found `{text}`"))
                .hint(format!("write a whole number from {low} to {high}, without a unit"));
        }
        value
    }

    /// A plain number without a unit.
    pub fn number(&mut self, node: &Node, what: &str) -> Option<f64> {
        let text = self.text(node, what)?;
        let value = text.parse::<f64>().ok().filter(|n| n.is_finite());
        if value.is_none() {
            self.mistake(node.span, format!("expected {what} as a plain number, found `{text}`"))
                .hint("write it without a unit, with a point before the decimals");
        }
        value
    }

    /// `true` or `false`.
    pub fn flag(&mut self, node: &Node, what: &str) -> Option<bool> {
        self.choice(node, what, &[("true", true), ("false", false)])
    }

    /// One of a closed set of words.
    pub fn choice<T: Copy>(&mut self, node: &Node, what: &str, choices: &[(&str, T)]) -> Option<T> {
        let text = self.text(node, what)?;
        if let Some((_, value)) = choices.iter().find(|(word, _)| *word == text) {
            return Some(*value);
        }
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let near = nearest(text, &words);
        let mistake = self.mistake(node.span, format!("expected {what}, found `{text}`"));
        match near {
            Some(word) => mistake.hint(format!("did you mean `{word}`?")),
            None => mistake.hint(format!("known here: {}", words.join(", "))),
        }
        None
    }

    /// Gives the value out if nothing was wrong anywhere in the document.
    ///
    /// # Errors
    ///
    /// All mistakes that were noted.
    pub fn finish<T>(self, value: Option<T>) -> Result<T, Mistakes> {
        match value {
            Some(value) if self.is_clean() => Ok(value),
            Some(_) | None => Err(self.mistakes.without(|place| self.retracted.contains(&Noted(place)))),
        }
    }

    /// Whether nothing was wrong so far.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.mistakes.is_empty()
    }
}

/// The word that a mistyped one was probably meant to be.
#[must_use]
pub fn nearest<'w>(text: &str, words: &[&'w str]) -> Option<&'w str> {
    let lower = text.to_lowercase();
    words
        .iter()
        .map(|word| (strsim::jaro_winkler(&lower, &word.to_lowercase()), *word))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, word)| word)
}
