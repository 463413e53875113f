//! A mistake in a text, and how it is shown.

use std::fmt;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::node::{Source, Span};

/// How messages are dressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Text alone.
    Plain,
    /// With terminal colours; the words are the same.
    Coloured,
}

/// Something in a text that is not right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    source: Source,
    span: Span,
    message: String,
    hint: Option<String>,
}

impl Mistake {
    pub(crate) fn new(source: Source, span: Span, message: String) -> Self {
        Self { source, span, message, hint: None }
    }

    /// Adds what to do about it.
    pub fn hint(&mut self, hint: impl Into<String>) {
        self.hint = Some(hint.into());
    }

    /// What is wrong.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.message
    }

    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<&str> {
        self.hint.as_deref()
    }

    /// The name of the text.
    #[must_use]
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// Line and column, both from 1.
    #[must_use]
    pub fn line_and_column(&self) -> (usize, usize) {
        self.source.line_and_column(self.span)
    }

    fn render(&self, style: Style) -> String {
        let renderer = match style {
            Style::Plain => Renderer::plain(),
            Style::Coloured => Renderer::styled(),
        };
        let text = self.source.text();
        let end = self.span.end.min(text.len());
        let start = self.span.start.min(end);
        let annotation = AnnotationKind::Primary.span(Span { start, end }.range());
        let snippet = Snippet::source(text).path(self.source.name()).annotation(annotation);
        let mut group: Group<'_> = Level::ERROR.primary_title(self.message.as_str()).element(snippet);
        if let Some(hint) = &self.hint {
            group = group.element(Level::HELP.message(hint.as_str()));
        }
        renderer.render(&[group])
    }
}

/// Nobody reads more at once, and to show each takes a look at the whole text: a file of another kind would be told of
/// for minutes.
const MOST_SHOWN: usize = 100;

/// All mistakes of one or more texts; never empty when it is an error.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Mistakes(Vec<Mistake>);

impl Mistakes {
    /// The mistakes in the order in which they were found.
    #[must_use]
    pub fn all(&self) -> &[Mistake] {
        &self.0
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Takes in the mistakes of another text.
    pub fn append(&mut self, mut others: Self) {
        self.0.append(&mut others.0);
    }

    pub(crate) fn get_mut(&mut self, place: usize) -> Option<&mut Mistake> {
        self.0.get_mut(place)
    }

    /// Those that are not at a place that `dropped` names.
    pub(crate) fn without(self, dropped: impl Fn(usize) -> bool) -> Self {
        Self(
            self.0
                .into_iter()
                .enumerate()
                .filter(|(place, _)| !dropped(*place))
                .map(|(_, one)| one)
                .collect(),
        )
    }

    pub(crate) fn push(&mut self, mistake: Mistake) -> &mut Mistake {
        self.0.push(mistake);
        self.0.last_mut().expect("one was just pushed")
    }

    /// The mistakes in the order of the texts.
    #[must_use]
    pub fn in_order(&self) -> Vec<&Mistake> {
        let mut ordered: Vec<_> = self.0.iter().collect();
        ordered.sort_by_key(|mistake| (mistake.file(), mistake.span.start));
        ordered
    }

    /// The first hundred mistakes in the order of the text, each with its line and advice, and how many more there are.
    #[must_use]
    pub fn render(&self, style: Style) -> String {
        let ordered = self.in_order();
        let (shown, more) = ordered.split_at(ordered.len().min(MOST_SHOWN));
        let mut told: Vec<String> = shown.iter().map(|mistake| mistake.render(style)).collect();
        if !more.is_empty() {
            told.push(format!("and {} more", more.len()));
        }
        told.join("\n\n")
    }
}

impl fmt::Display for Mistakes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(Style::Plain))
    }
}

impl std::error::Error for Mistakes {}
