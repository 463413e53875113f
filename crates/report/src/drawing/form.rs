//! Where things stand in drawings that have a row for each reading.

use super::Width;

/// The size of the font, which the style sheet repeats.
pub(crate) const FONT: f64 = 12.0;
/// From the top to the first row: what the axis is, and its figures.
pub(crate) const HEAD: f64 = 38.0;

/// Where things stand in a row, from the left.
pub(crate) struct Form {
    pub(crate) width: f64,
    /// From row to row.
    pub(crate) row: f64,
    /// Where figures are drawn.
    pub(crate) left: f64,
    pub(crate) right: f64,
    /// From the top of a row to the baseline of its words, and to the middle of its figure.
    pub(crate) words: f64,
    pub(crate) middle: f64,
    /// Half the height of an upright line.
    pub(crate) half: f64,
}

/// On a wide page, with long words beside the figures.
pub(crate) const WIDE: Form =
    Form { width: 720.0, row: 22.0, left: 230.0, right: 616.0, words: 15.0, middle: 11.0, half: 11.0 };
/// On a narrow one words stand above the figures.
pub(crate) const NARROW: Form =
    Form { width: 360.0, row: 42.0, left: 18.0, right: 342.0, words: 14.0, middle: 29.0, half: 10.0 };

/// The form for a width of page.
pub(crate) const fn form(width: Width) -> &'static Form {
    match width {
        Width::Wide => &WIDE,
        Width::Narrow => &NARROW,
    }
}
