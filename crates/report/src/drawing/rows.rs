//! Figures over one scale, a row for each thing that is named at its left, so that nothing ever overlaps.

use spurline_units::Hertz;

use super::Width;
use super::form::{FONT, Form, HEAD, form};
use super::measure::fitted;
use super::scale::Scale;
use super::svg::{Anchor, Drawing};

/// How wide such a drawing is.
pub(crate) const fn width_of(width: Width) -> f64 {
    form(width).width
}

/// Rows over one scale.
pub(crate) struct Rows {
    form: &'static Form,
    scale: Scale,
    top: f64,
}

impl Rows {
    pub(crate) const fn new(width: Width, scale: Scale, top: f64) -> Self {
        Self { form: form(width), scale, top }
    }

    pub(crate) const fn width(&self) -> f64 {
        self.form.width
    }

    /// Half the height of an upright line.
    pub(crate) const fn half(&self) -> f64 {
        self.form.half
    }

    /// Where so many rows end.
    pub(crate) fn bottom(&self, rows: usize) -> f64 {
        self.top + HEAD + rows as f64 * self.form.row
    }

    /// Where a figure stands, from the left.
    pub(crate) fn x(&self, value: f64) -> f64 {
        self.form.left + self.scale.part(value) * (self.form.right - self.form.left)
    }

    /// Draws the axis and its lines through so many rows.
    pub(crate) fn axis(&self, drawing: &mut Drawing, what: &str, rows: usize) {
        let head = self.top + HEAD;
        drawing.text((self.form.left, self.top + 12.0), Anchor::Start, "axis", what);
        for (level, words) in self.scale.lines() {
            let x = self.x(level);
            drawing.line((x, head - 4.0), (x, head), "grid");
            drawing.text((x, head - 8.0), Anchor::Middle, "axis", &words);
            for row in 0..rows {
                let y = head + row as f64 * self.form.row + self.form.middle;
                drawing.line((x, y - self.form.half), (x, y + self.form.half), "grid");
            }
        }
    }

    /// The words at the left of a row; gives where its middle is.
    pub(crate) fn row(
        &self,
        drawing: &mut Drawing,
        place: usize,
        (title, frequency): (&str, Hertz),
        stands_out: bool,
    ) -> f64 {
        let top = self.top + HEAD + place as f64 * self.form.row;
        let class = if stands_out { "name" } else { "axis" };
        drawing.text((4.0, top + self.form.words), Anchor::Start, class, &fitted(title, 126.0, FONT));
        let at = fitted(&short(frequency), 80.0, FONT);
        drawing.text((218.0, top + self.form.words), Anchor::End, "axis", &at);
        top + self.form.middle
    }

    /// The words at the right of a row, with a sign of a style class before them.
    pub(crate) fn right(&self, drawing: &mut Drawing, place: usize, words: &str, mark: Option<(&str, &str)>) {
        let y = self.top + HEAD + place as f64 * self.form.row + self.form.words;
        let end = self.form.width - 4.0;
        drawing.text((end, y), Anchor::End, "axis", &fitted(words, 80.0, FONT));
        if let Some((class, sign)) = mark {
            drawing.text((end - 90.0, y), Anchor::Middle, class, sign);
        }
    }

    /// An upright line of a style class at a figure.
    pub(crate) fn upright(&self, drawing: &mut Drawing, value: f64, y: f64, class: &str) {
        let x = self.x(value);
        drawing.line((x, y - self.form.half), (x, y + self.form.half), class);
    }

    /// From a figure on without end, to the right or to the left.
    pub(crate) fn endless(&self, drawing: &mut Drawing, value: f64, y: f64, to_the_right: bool) {
        let end = if to_the_right { self.form.right - 2.0 } else { self.form.left + 2.0 };
        let back = if to_the_right { end - 8.0 } else { end + 8.0 };
        drawing.line((self.x(value), y), (end, y), "reach");
        drawing.path(&[vec![(back, y - 5.0), (end, y), (back, y + 5.0)]], "arrow");
    }
}

/// A frequency in few characters.
fn short(frequency: Hertz) -> String {
    if frequency.mhz() < 10_000.0 {
        format!("{:.1} MHz", frequency.mhz())
    } else {
        format!("{:.2} GHz", frequency.mhz() / 1e3)
    }
}
