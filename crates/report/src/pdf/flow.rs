//! What flows down the sheets: headings, paragraphs, lists, figures.

use super::element::{ElementId, Role};
use super::font::Face;
use super::ink::Ink;
use super::lines::lines;
use super::sheets::{Placed, Sheets};
use crate::drawing::Drawing;

/// How large, how dark and in which face a text is.
pub(crate) type Style = (Face, f32, Ink);

pub(crate) const BODY: Style = (Face::Plain, 9.0, Ink::BLACK);
pub(crate) const STRONG: Style = (Face::Bold, 9.0, Ink::BLACK);
pub(crate) const SOFT: Style = (Face::Plain, 8.0, Ink::SOFT);
pub(crate) const CODE: Style = (Face::Mono, 8.0, Ink::BLACK);
/// From base line to base line, in the unit of the size.
pub(crate) const LEADING: f32 = 1.36;
/// From the top of a line to its base line.
pub(crate) const ASCENT: f32 = 1.0;
const INDENT: f32 = 12.0;
const BESIDE: f32 = 8.0;

/// What waits for what it stands over.
pub(super) enum Waiting {
    Heading(u16, String),
    Intro(String),
}

/// The same in lines, with the room around it.
struct Head {
    lines: Vec<String>,
    style: Style,
    before: f32,
    after: f32,
}

impl Waiting {
    fn set(&self, sheets: &Sheets<'_>) -> Head {
        let (text, (face, size, ink), before, after) = match self {
            Self::Heading(1, title) => (title, (Face::Bold, 13.0, Ink::BLACK), 20.0, 6.0),
            Self::Heading(2, title) => (title, (Face::Bold, 10.5, Ink::BLACK), 14.0, 4.0),
            Self::Heading(_, title) => (title, (Face::Bold, 9.0, Ink::BLACK), 9.0, 2.0),
            Self::Intro(text) => (text, SOFT, 0.0, 3.0),
        };
        let lines = lines(sheets.fonts, text, face, size, sheets.width());
        Head { lines, style: (face, size, ink), before, after }
    }
}

impl Head {
    fn tall(&self) -> f32 {
        self.lines.len() as f32 * self.style.1 * LEADING + self.after
    }
}

impl Sheets<'_> {
    /// A heading; it is written when something follows, on the same sheet as that.
    pub(crate) fn heading(&mut self, level: u16, title: &str) {
        self.waiting.push(Waiting::Heading(level, title.to_owned()));
    }

    /// A few words that stay with what follows.
    pub(crate) fn intro(&mut self, text: &str) {
        self.waiting.push(Waiting::Intro(text.to_owned()));
    }

    /// Makes room for what follows, writes what waits for it, and leaves a gap where nothing does.
    pub(crate) fn begin(&mut self, gap: f32, height: f32) {
        let waiting = std::mem::take(&mut self.waiting);
        let heads: Vec<Head> = waiting.iter().map(|waiting| waiting.set(self)).collect();
        let above: f32 =
            if heads.is_empty() { gap } else { heads.iter().map(|head| head.before + head.tall()).sum() };
        // Heads that leave no room on any sheet flow down as texts do.
        let flows = above + height > self.height();
        self.need(if flows { 0.0 } else { above + height });
        if heads.is_empty() {
            self.gap(gap);
        }
        for (waiting, head) in waiting.iter().zip(heads) {
            self.gap(head.before);
            let of = match waiting {
                Waiting::Heading(level, title) => {
                    self.bookmark(*level, title);
                    self.element(Role::Heading(*level, self.fonts.spoken(title, Face::Bold)), None)
                }
                Waiting::Intro(_) => self.element(Role::Paragraph, None),
            };
            for line in &head.lines {
                self.need(head.style.1 * LEADING);
                self.line(line, self.left(), head.style, of);
            }
            if matches!(waiting, Waiting::Heading(1, _)) {
                let (from, to) = ((self.left(), self.y + 1.0), (self.left() + self.width(), self.y + 1.0));
                self.place(Placed::Line { from, to, ink: Ink::BLACK, width: 1.0 }, None);
            }
            self.y += head.after;
        }
        if flows {
            self.need(height);
        }
    }

    /// One line where the pen is.
    fn line(&mut self, line: &str, x: f32, style: Style, of: Option<ElementId>) {
        let size = style.1;
        self.words((x, self.y + size * ASCENT), line, style, of);
        self.y += size * LEADING;
    }

    /// A paragraph that may go on on the next sheet.
    pub(crate) fn paragraph(&mut self, text: &str, style: Style) {
        self.begin(0.0, 2.0 * style.1 * LEADING);
        let of = self.element(Role::Paragraph, None);
        self.flow(text, (self.left(), self.width()), style, of);
        self.y += 3.0;
    }

    fn flow(&mut self, text: &str, (x, room): (f32, f32), style: Style, of: Option<ElementId>) {
        let set = lines(self.fonts, text, style.0, style.1, room);
        let tall = style.1 * LEADING;
        // Two lines stay together at either end of a sheet.
        let mut left = set.len();
        for line in &set {
            self.need(if left == 2 || left == set.len() && left > 1 { 2.0 * tall } else { tall });
            self.line(line, x, style, of);
            left -= 1;
        }
    }

    /// A list of short texts.
    pub(crate) fn list<T: AsRef<str>>(&mut self, items: &[T], style: Style) {
        self.begin(0.0, 2.0 * style.1 * LEADING);
        let list = self.element(Role::List, None);
        let tall = |sheets: &Self, item: &T| {
            lines(sheets.fonts, item.as_ref(), style.0, style.1, sheets.width() - INDENT).len() as f32
                * style.1
                * LEADING
        };
        for (place, item) in items.iter().enumerate() {
            if place > 0 && place + 2 == items.len() {
                // The last one does not stand alone on the next sheet.
                let both = tall(self, item) + tall(self, &items[place + 1]) + 1.0;
                self.need(if both < self.height() / 3.0 { both } else { 0.0 });
            }
            let entry = self.element(Role::Item, list);
            let body = self.element(Role::ItemBody, entry);
            self.need(style.1 * LEADING);
            self.words((self.left() + 2.0, self.y + style.1 * ASCENT), "•", style, None);
            self.flow(item.as_ref(), (self.left() + INDENT, self.width() - INDENT), style, body);
            self.y += 1.0;
        }
        self.y += 2.0;
    }

    /// A text in a frame that stands out; it stays whole unless it is longer than a sheet.
    pub(crate) fn boxed(&mut self, texts: &[(&str, Style)], ink: Ink, width: f32) {
        let room = self.width() - 2.0 * BESIDE;
        let set: Vec<(String, Style)> = texts
            .iter()
            .flat_map(|(text, style)| {
                lines(self.fonts, text, style.0, style.1, room).into_iter().map(|line| (line, *style))
            })
            .collect();
        let tall = set.iter().map(|(_, style)| style.1 * LEADING).sum::<f32>() + 8.0;
        if tall > self.height() {
            for (text, style) in texts {
                self.paragraph(text, *style);
            }
            return;
        }
        self.begin(4.0, tall);
        let (at, size) = ((self.left(), self.y), (self.width(), tall));
        self.place(Placed::Filled { at, size, ink: Ink::BAND }, None);
        self.place(Placed::Framed { at, size, ink, width }, None);
        self.y += 4.0;
        let of = self.element(Role::Paragraph, None);
        for (line, style) in &set {
            self.line(line, self.left() + BESIDE, *style, of);
        }
        self.y += 8.0;
    }

    /// A drawing as wide as this, with words below; it stays whole, and is made smaller where a sheet is too small.
    pub(crate) fn figure(&mut self, drawing: Drawing, widest: f32, caption: &str) {
        let (wide, tall) = drawing.size();
        if wide <= 0.0 || tall <= 0.0 {
            return;
        }
        let below = lines(self.fonts, caption, SOFT.0, 7.5, self.width());
        let words = below.len() as f32 * 7.5 * LEADING + 4.0;
        // With headings of three levels and an intro over it.
        let scale = (widest / wide as f32).min((self.height() - words - 100.0) / tall as f32);
        let tall = tall as f32 * scale;
        self.begin(4.0, tall + words);
        let of = self.element(Role::Figure(self.fonts.spoken(drawing.label(), Face::Plain)), None);
        let at = (self.left(), self.y);
        self.place(Placed::Drawn { at, scale, drawing: Box::new(drawing) }, of);
        self.y += tall + 2.0;
        let of = if below.is_empty() { None } else { self.element(Role::Paragraph, None) };
        for line in &below {
            self.line(line, self.left(), (Face::Plain, 7.5, Ink::SOFT), of);
        }
        self.y += 4.0;
    }

    /// Two drawings side by side, each with words below, as high as the higher of them.
    pub(crate) fn pair(&mut self, drawings: Vec<(Drawing, Vec<String>)>) {
        const BETWEEN: f32 = 14.0;
        const WORDS: f32 = 6.5;
        let wide = (self.width() - BETWEEN) / 2.0;
        let mut rest = drawings.into_iter();
        loop {
            let two: Vec<(Drawing, Vec<String>)> = rest.by_ref().take(2).collect();
            if two.is_empty() {
                return;
            }
            let set: Vec<(Drawing, f32, Vec<String>)> = two
                .into_iter()
                .map(|(drawing, words)| {
                    let scale = wide / drawing.size().0 as f32;
                    let below = words
                        .iter()
                        .flat_map(|text| lines(self.fonts, text, Face::Plain, WORDS, wide))
                        .take(12)
                        .collect();
                    (drawing, scale, below)
                })
                .collect();
            let tall = |(drawing, scale, below): &(Drawing, f32, Vec<String>)| {
                drawing.size().1 as f32 * scale + 3.0 + below.len() as f32 * WORDS * LEADING
            };
            let tallest = set.iter().map(tall).fold(0.0, f32::max);
            self.begin(4.0, tallest);
            let top = self.y;
            for (column, (drawing, scale, below)) in set.into_iter().enumerate() {
                let x = self.left() + column as f32 * (wide + BETWEEN);
                let height = drawing.size().1 as f32 * scale;
                let label = self.fonts.spoken(drawing.label(), Face::Plain);
                let of = self.element(Role::Figure(label), None);
                self.place(Placed::Drawn { at: (x, top), scale, drawing: Box::new(drawing) }, of);
                self.y = top + height + 3.0;
                let of = if below.is_empty() { None } else { self.element(Role::Paragraph, None) };
                for line in &below {
                    self.line(line, x, (Face::Plain, WORDS, Ink::SOFT), of);
                }
            }
            self.y = top + tallest + 5.0;
        }
    }
}
