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

    /// The width of a text that [`Fonts::shown`] has given.
    pub(crate) fn width(&self, text: &str, face: Face, size: f32) -> f32 {
        let loaded = self.face(face);
        text.chars().map(|c| loaded.glyph(c).1).sum::<f32>() * size
    }

    /// The width of one character in the unit of the size.
    pub(crate) fn em(&self, c: char, face: Face) -> f32 {
        self.face(face).glyph(c).1
    }

    /// The font, and the glyphs of a text that [`Fonts::shown`] has given.
    pub(crate) fn set(&self, text: &str, face: Face) -> (Font, Vec<KrillaGlyph>) {
        let loaded = self.face(face);
        let glyph = |(at, c): (usize, char)| {
            let (id, advance) = loaded.glyph(c);
            KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, at..at + c.len_utf8(), None)
        };
        (loaded.font.clone(), text.char_indices().map(glyph).collect())
    }
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
