//! One box of the drawing with its words.

use crate::drawing::{Anchor, Drawing, Point, wrapped};

/// The size of the font, which the style sheet repeats.
const FONT: f64 = 12.0;
/// From line to line.
const LINE: f64 = 15.0;
const INSIDE: f64 = 5.0;

/// What a box stands for, which decides how it looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Unit,
    Part,
    Instrument,
    Feed,
}

/// A box: a name that may take several lines, and facts below it.
#[derive(Clone, Debug)]
pub(super) struct Block {
    pub(super) kind: Kind,
    pub(super) name: String,
    pub(super) facts: Vec<String>,
}

/// A box of a certain width, its words broken into lines.
pub(super) struct Set<'a> {
    block: &'a Block,
    width: f64,
    names: Vec<String>,
    facts: Vec<String>,
}

/// Sets a title of at most three lines over what comes next; gives the height that it takes.
pub(super) fn title(drawing: &mut Drawing, (x, y): Point, room: f64, words: &str) -> f64 {
    let lines = wrapped(words, room, FONT, 3);
    for (line, words) in lines.iter().enumerate() {
        drawing.text((x, y + 12.0 + line as f64 * LINE), Anchor::Start, "axis", words);
    }
    lines.len() as f64 * LINE + 6.0
}

impl Block {
    /// Breaks the words for a box of this width.
    pub(super) fn set(&self, width: f64) -> Set<'_> {
        let room = width - 2.0 * INSIDE;
        Set {
            block: self,
            width,
            names: wrapped(&self.name, room, FONT, 4),
            facts: self.facts.iter().flat_map(|fact| wrapped(fact, room, FONT, 2)).collect(),
        }
    }
}

impl Set<'_> {
    /// The height that the words need.
    pub(super) fn height(&self) -> f64 {
        (self.names.len() + self.facts.len()) as f64 * LINE + 2.0 * INSIDE
    }

    /// Draws the box from its upper left corner, `height` high, with its words in the middle.
    pub(super) fn draw(&self, drawing: &mut Drawing, (x, y): Point, height: f64, used: bool) {
        let kind = match self.block.kind {
            Kind::Unit => "unit",
            Kind::Part => "part",
            Kind::Instrument => "instrument",
            Kind::Feed => "feed",
        };
        let idle = if used { "" } else { " idle" };
        drawing.rect((x, y), (self.width, height), &format!("box {kind}{idle}"));
        let middle = x + self.width / 2.0;
        let mut line = y + (height - self.height()) / 2.0 + INSIDE + 11.0;
        for (words, class) in
            self.names.iter().map(|name| (name, "name")).chain(self.facts.iter().map(|fact| (fact, "axis")))
        {
            drawing.text((middle, line), Anchor::Middle, class, words);
            line += LINE;
        }
    }
}
