//! A label for a small printer: 62 mm by 29 mm, a few lines and one word that is read first.

use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};

use super::font::{Face, Fonts};
use super::ink::Ink;
use crate::view::ReportError;

/// Millimetres in points.
const MM: f32 = 72.0 / 25.4;
const WIDTH: f32 = 62.0 * MM;
const HEIGHT: f32 = 29.0 * MM;
/// What such printers leave white at the edges (common practice).
const EDGE: f32 = 2.0 * MM;
const LARGE: f32 = 17.0;
const SMALL: f32 = 6.2;
const LINE: f32 = 7.6;

/// What stands on a label.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// The first line, left and right.
    pub head: (String, String),
    /// The word that is read first.
    pub word: String,
    /// What it rests on.
    pub lines: Vec<String>,
    /// The last line.
    pub foot: String,
}

/// The label as a document of one sheet of its size. What does not fit into a line is set smaller.
///
/// # Errors
///
/// [`ReportError`], if it cannot be written.
pub fn label_pdf(label: &Label) -> Result<Vec<u8>, ReportError> {
    let fonts = Fonts::read();
    let mut document =
        Document::new_with(SerializeSettings { xmp_metadata: true, ..SerializeSettings::default() });
    let settings = PageSettings::from_wh(WIDTH, HEIGHT).expect("a label has a size");
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    let mut y = EDGE + SMALL;
    let mut words =
        vec![(y, &label.head.0, Face::Plain, SMALL, false), (y, &label.head.1, Face::Bold, SMALL, true)];
    y += LARGE * 0.95;
    words.push((y, &label.word, Face::Bold, LARGE, false));
    let most = ((HEIGHT - EDGE - y - LINE) / LINE).floor() as usize;
    for line in label.lines.iter().take(most) {
        y += LINE;
        words.push((y, line, Face::Plain, SMALL, false));
    }
    words.push((HEIGHT - EDGE, &label.foot, Face::Bold, SMALL * 0.9, false));
    let room = WIDTH - 2.0 * EDGE;
    for (y, text, face, size, right) in words {
        let text = fonts.shown(text, face);
        if text.is_empty() {
            continue;
        }
        let wide = fonts.width(&text, face, size);
        let size = if wide > room { size * room / wide } else { size };
        let x = if right { WIDTH - EDGE - wide.min(room) } else { EDGE };
        // Printers of labels have one colour.
        super::place::set(&mut surface, &fonts, (x, y), &text, (face, size, Ink::BLACK));
    }
    surface.finish();
    page.finish();
    document.finish().map_err(|error| ReportError::Pdf(format!("{error:?}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_one_sheet_of_its_size_with_all_its_words() {
        let label = Label {
            head: ("Demonstration day".to_owned(), "no. 12".to_owned()),
            word: "COMPLIES".to_owned(),
            lines: vec!["145.5000 MHz, 4.79 W".to_owned(), "\u{1b}[2J ".repeat(60), "third".to_owned()],
            foot: "INDICATIVE, NOT A CERTIFICATION".to_owned(),
        };
        let bytes = label_pdf(&label).unwrap();
        let document = lopdf::Document::load_mem(&bytes).unwrap();
        let pages = document.get_pages();
        assert_eq!(pages.len(), 1);
        let page = document.get_dictionary(pages[&1]).unwrap();
        let size: Vec<f32> = page
            .get(b"MediaBox")
            .unwrap()
            .as_array()
            .unwrap()
            .iter()
            .map(|edge| edge.as_float().unwrap())
            .collect();
        assert!((size[2] - 175.75).abs() < 0.1 && (size[3] - 82.2).abs() < 0.1, "{size:?}");
        let text = document.extract_text(&[1]).unwrap();
        for part in ["no. 12", "COMPLIES", "145.5000 MHz, 4.79 W", "third", "NOT A CERTIFICATION"] {
            assert!(text.contains(part), "{part}: {text}");
        }
        assert_eq!(bytes, label_pdf(&label).unwrap(), "the same label, the same bytes");
    }
}
