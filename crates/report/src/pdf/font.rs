//! The letters: which glyph a character has, and how much room it takes. What is measured here is what is set, letter
//! by letter, so that a line never is wider than was thought.

use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::charmap::Charmap;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

use crate::text::plain;

/// Stands for a character that the fonts do not have.
const LACKING: char = '\u{fffd}';

/// One of the faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Face {
    Plain,
    Bold,
    Mono,
}

/// All faces.
pub(crate) struct Fonts {
    faces: [Loaded; 3],
}

struct Loaded {
    font: Font,
    characters: Charmap<'static>,
    metrics: GlyphMetrics<'static>,
    em: f32,
}

impl Fonts {
    /// Reads the fonts that are built in.
    pub(crate) fn read() -> Self {
        Self {
            faces: [
                Loaded::read(include_bytes!("../../fonts/DejaVuSans.ttf")),
                Loaded::read(include_bytes!("../../fonts/DejaVuSans-Bold.ttf")),
                Loaded::read(include_bytes!("../../fonts/DejaVuSansMono.ttf")),
            ],
        }
    }

    const fn face(&self, face: Face) -> &Loaded {
        match face {
            Face::Plain => &self.faces[0],
            Face::Bold => &self.faces[1],
            Face::Mono => &self.faces[2],
        }
    }

    /// The text with a sign in place of what cannot be shown: what acts, what turns text around, what no font has.
    pub(crate) fn shown(&self, text: &str, face: Face) -> String {
        let loaded = self.face(face);
        let fit = |c: char| match c {
            '\n' | '\t' => ' ',
            '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}' | '\u{2029}' | '\u{feff}' => LACKING,
            other if loaded.characters.map(other).is_some() => other,
            _ => LACKING,
        };
        plain(text).chars().map(fit).collect()
    }

    /// The same, with what stands between backticks as code: its letters are told from others by themselves, so that they
    /// are measured, broken into lines and set as such wherever they come to stand.
    pub(crate) fn typeset(&self, text: &str, face: Face) -> String {
        if !text.contains('`') {
            return self.shown(text, face);
        }
        let pieces = crate::page::pieces(text).into_iter();
        pieces
            .map(|(piece, is_code)| match is_code {
                true => self.shown(piece, Face::Mono).chars().map(as_code).collect::<String>(),
                false => self.shown(piece, face),
            })
            .collect()
    }

    /// The same as words alone, for those who have them read to them.
    pub(crate) fn spoken(&self, text: &str, face: Face) -> String {
        let pieces = crate::page::pieces(text).into_iter();
        pieces.map(|(piece, _)| self.shown(piece, face)).collect()
    }

    /// The width of a text that [`Fonts::shown`] or [`Fonts::typeset`] has given.
    pub(crate) fn width(&self, text: &str, face: Face, size: f32) -> f32 {
        text.chars().map(|c| self.em(c, face)).sum::<f32>() * size
    }

    /// The width of one character in the unit of the size.
    pub(crate) fn em(&self, c: char, face: Face) -> f32 {
        match of_code(c) {
            Some(c) => self.face(Face::Mono).glyph(c).1 * SIZE_OF_CODE,
            None => self.face(face).glyph(c).1,
        }
    }

    /// A text in runs of one face each, with their fonts and glyphs.
    pub(crate) fn set(&self, text: &str, face: Face) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        let mut code = None;
        for c in text.chars() {
            let inner = of_code(c);
            if code != Some(inner.is_some()) {
                code = Some(inner.is_some());
                let (face, size) = if inner.is_some() { (Face::Mono, SIZE_OF_CODE) } else { (face, 1.0) };
                let font = self.face(face).font.clone();
                runs.push(Run { text: String::new(), font, glyphs: Vec::new(), size, width: 0.0 });
            }
            let Some(run) = runs.last_mut() else { continue };
            let letter = inner.unwrap_or(c);
            let (id, advance) = self.face(if inner.is_some() { Face::Mono } else { face }).glyph(letter);
            let at = run.text.len();
            run.text.push(letter);
            run.glyphs.push(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, at..run.text.len(), None));
            run.width += advance * run.size;
        }
        runs
    }
}

/// Letters that are set one after the other in one face.
pub(crate) struct Run {
    /// What they say.
    pub(crate) text: String,
    pub(crate) font: Font,
    pub(crate) glyphs: Vec<KrillaGlyph>,
    /// Their size in the unit of the size around them.
    pub(crate) size: f32,
    /// How wide they are in the same unit.
    pub(crate) width: f32,
}

/// The letters of one width are large for their size.
const SIZE_OF_CODE: f32 = 0.92;
/// Where the letters of code are kept among all letters: in the first of the planes that are for private use.
const CODE: u32 = 0xf_0000;

/// A letter of code; a blank stays one, where a line may end.
fn as_code(c: char) -> char {
    let is_kept = c == ' ' || u32::from(c) > 0xfffd;
    if is_kept { c } else { char::from_u32(CODE + u32::from(c)).unwrap_or(c) }
}

/// What a letter of code is; `None` of any other letter.
pub(crate) fn of_code(c: char) -> Option<char> {
    u32::from(c).checked_sub(CODE).filter(|c| *c <= 0xfffd).and_then(char::from_u32)
}

impl Loaded {
    fn read(bytes: &'static [u8]) -> Self {
        let font = FontRef::from_index(bytes, 0).expect("the fonts that are built in can be read");
        Self {
            font: Font::new(bytes.into(), 0).expect("the fonts that are built in can be read"),
            characters: font.charmap(),
            metrics: font.glyph_metrics(Size::unscaled(), LocationRef::default()),
            em: f32::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em),
        }
    }

    fn glyph(&self, c: char) -> (GlyphId, f32) {
        let id = self.characters.map(c).unwrap_or_default();
        let advance = self.metrics.advance_width(id).unwrap_or_default();
        (GlyphId::new(id.to_u32()), advance / self.em)
    }
}
