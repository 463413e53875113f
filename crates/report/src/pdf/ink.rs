//! The colours and lines of a sheet: those of the page, by the same style classes.

use krilla::color::rgb;
use krilla::paint::{Fill, Stroke, StrokeDash};

/// A colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Ink(u8, u8, u8);

impl Ink {
    pub(crate) const BLACK: Self = Self(0x1d, 0x23, 0x30);
    pub(crate) const SOFT: Self = Self(0x50, 0x57, 0x63);
    pub(crate) const RULE: Self = Self(0xc9, 0xc6, 0xbb);
    pub(crate) const BAND: Self = Self(0xf3, 0xf1, 0xe8);
    pub(crate) const NOISE: Self = Self(0xe4, 0xe2, 0xda);
    pub(crate) const GOOD: Self = Self(0x1c, 0x6b, 0x48);
    pub(crate) const BAD: Self = Self(0xa3, 0x26, 0x1c);
    pub(crate) const UNSURE: Self = Self(0x80, 0x53, 0x00);
    pub(crate) const MARK: Self = Self(0x2b, 0x4c, 0x8c);
    pub(crate) const WHITE: Self = Self(0xff, 0xff, 0xff);

    /// The colour of an outcome's style class.
    pub(crate) fn of_class(class: &str) -> Self {
        match class {
            "good" => Self::GOOD,
            "bad" => Self::BAD,
            "unsure" => Self::UNSURE,
            "soft" => Self::SOFT,
            _ => Self::BLACK,
        }
    }

    pub(crate) fn fill(self) -> Fill {
        Fill { paint: rgb::Color::new(self.0, self.1, self.2).into(), ..Fill::default() }
    }

    pub(crate) fn stroke(self, width: f32, dash: &[f32]) -> Stroke {
        let dash = (!dash.is_empty()).then(|| StrokeDash { array: dash.to_vec(), offset: 0.0 });
        Stroke { paint: rgb::Color::new(self.0, self.1, self.2).into(), width, dash, ..Stroke::default() }
    }
}

/// How a shape of a drawing looks: what fills it, and what its line is (colour, width, dashes).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Look {
    pub(crate) fill: Option<Ink>,
    pub(crate) line: Option<(Ink, f32, &'static [f32])>,
    pub(crate) bold: bool,
}

/// The look of a shape by its style classes, which are those of the page's style sheet.
pub(crate) fn look(class: &str) -> Look {
    let mut look = Look { fill: None, line: None, bold: false };
    let mut line = |ink, width, dash| look.line = Some((ink, width, dash));
    let words: Vec<&str> = class.split_whitespace().collect();
    let first = words.first().copied().unwrap_or_default();
    match first {
        "grid" => line(Ink::RULE, 1.0, &[]),
        "limit" => line(Ink::BAD, 2.5, &[]),
        "foot" => line(Ink::BAD, 2.0, &[]),
        "floor" => line(Ink::SOFT, 2.0, &[2.0, 2.0]),
        "reach" => line(Ink::MARK, 2.0, &[5.0, 4.0]),
        "arrow" => line(Ink::MARK, 2.0, &[]),
        "whisker" => line(Ink::BLACK, 1.6, &[]),
        "unkeyed" => line(Ink::SOFT, 0.8, &[3.0, 2.0]),
        "trace" => line(Ink::MARK, 0.8, &[]),
        "peak" => line(Ink::BLACK, 1.4, &[]),
        "course" => line(Ink::MARK, 1.6, &[]),
        "wire" => line(Ink::BLACK, 2.0, &[]),
        "lead" => line(Ink::SOFT, 1.2, &[]),
        "open" => {
            line(Ink::MARK, 2.0, &[]);
            look.fill = Some(Ink::WHITE);
        }
        "box" => {
            line(Ink::BLACK, 1.2, &[]);
            look.fill = Some(Ink::WHITE);
        }
        "noise" => look.fill = Some(Ink::NOISE),
        "full" => look.fill = Some(Ink::MARK),
        "joint" | "name" => look.fill = Some(Ink::BLACK),
        "mark" => look.fill = words.get(1).map(|class| Ink::of_class(class)),
        _ => look.fill = Some(Ink::SOFT),
    }
    look.bold = matches!(first, "name" | "mark");
    for word in words.iter().skip(1) {
        let Some((ink, width, dash)) = &mut look.line else { break };
        match *word {
            "several" => *dash = &[4.0, 2.0],
            "second" => *dash = &[7.0, 3.0],
            "third" => *dash = &[2.0, 3.0],
            "fourth" => *dash = &[8.0, 3.0, 2.0, 3.0],
            "unit" => {
                *width = 2.5;
                look.fill = Some(Ink::BAND);
            }
            "instrument" => *width = 2.5,
            "feed" => *ink = Ink::SOFT,
            "idle" => (*ink, *dash) = (Ink::SOFT, &[4.0, 3.0]),
            _ => {}
        }
    }
    look
}
