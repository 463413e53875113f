//! The words under an axis: none lies on another, and none leaves the drawing.

use super::measure::width;
use super::svg::{Anchor, Drawing};

/// The size of the font, which the style sheet repeats.
const FONT: f64 = 12.0;
/// Room between two words.
const BETWEEN: f64 = 8.0;

/// Sets the words of an axis at their places from the left, on one base line; what has no room is left out.
pub(super) fn words(
    drawing: &mut Drawing,
    base: f64,
    (left, right): (f64, f64),
    places: impl IntoIterator<Item = (f64, String)>,
) {
    let mut free = left;
    for (at, words) in places {
        let half = width(&words, FONT) / 2.0;
        let middle = at.min(right - half).max(left + half);
        if middle - half >= free && middle + half <= right {
            drawing.text((middle, base), Anchor::Middle, "axis", &words);
            free = middle + half + BETWEEN;
        }
    }
}
