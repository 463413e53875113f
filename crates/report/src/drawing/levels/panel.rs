//! The readings of one quantity over their scale, a row for each.

use spurline_record::{Figure, Limit, Quantity, Reading};
use spurline_units::Hertz;

use super::whisker;
use crate::drawing::Width;
use crate::drawing::form::{FONT, Form, HEAD, NARROW, WIDE};
use crate::drawing::measure::fitted;
use crate::drawing::scale::Scale;
use crate::drawing::svg::{Anchor, Drawing};
use crate::{figures, limit};

/// The margins of readings need more room at the right than other figures do.
const ON_WIDE: Form = Form { left: 220.0, right: 604.0, ..WIDE };

/// The form for a width of page.
pub(super) const fn form(width: Width) -> &'static Form {
    match width {
        Width::Wide => &ON_WIDE,
        Width::Narrow => &NARROW,
    }
}

/// The readings of one quantity over their scale.
pub(super) struct Panel<'a> {
    pub(super) form: &'a Form,
    pub(super) scale: Scale,
    pub(super) top: f64,
    pub(super) rows: Vec<&'a Reading>,
}

impl Panel<'_> {
    /// Where the panel ends.
    pub(super) fn bottom(&self) -> f64 {
        self.top + HEAD + self.rows.len() as f64 * self.form.row
    }

    /// Draws the axis and a row for each reading.
    pub(super) fn draw(&self, drawing: &mut Drawing) {
        self.axis(drawing);
        for (place, reading) in self.rows.iter().enumerate() {
            self.row(drawing, place as f64, reading);
        }
    }

    fn x(&self, level: f64) -> f64 {
        self.form.left + self.scale.part(level) * (self.form.right - self.form.left)
    }

    fn axis(&self, drawing: &mut Drawing) {
        let head = self.top + HEAD;
        drawing.text((self.form.left, self.top + 12.0), Anchor::Start, "axis", "level at the connector, dBm");
        drawing.text((self.form.width - 4.0, self.top + 12.0), Anchor::End, "axis", "margin");
        for (level, words) in self.scale.lines() {
            let x = self.x(level);
            drawing.line((x, head - 4.0), (x, head), "grid");
            drawing.text((x, head - 8.0), Anchor::Middle, "axis", &words);
        }
    }

    fn row(&self, drawing: &mut Drawing, place: f64, reading: &Reading) {
        let top = self.top + HEAD + place * self.form.row;
        self.words(drawing, top + self.form.words, reading);
        let y = top + self.form.middle;
        for (level, _) in self.scale.lines() {
            let x = self.x(level);
            drawing.line((x, y - self.form.half), (x, y + self.form.half), "grid");
        }
        if let Some(floor) = reading.proof.floor {
            self.floor(drawing, y, floor.level.get());
        }
        self.limits(drawing, y, reading);
        match &reading.figure {
            Some(Figure { level: Some(level), bound, .. }) => {
                self.level(drawing, y, (level.get(), whisker(reading)), *bound);
            }
            Some(_) | None => {
                drawing.text((self.form.left + 6.0, y + 4.0), Anchor::Start, "axis", "no level");
            }
        }
    }

    fn words(&self, drawing: &mut Drawing, y: f64, reading: &Reading) {
        let number = reading.ordinal.to_string();
        // The name of one of several does not fit: the table beside the drawing has it.
        let title = match reading.quantity {
            Quantity::CarrierPower | Quantity::Harmonic => reading.running_title(),
            other => other.short().to_owned(),
        };
        drawing.text((36.0, y), Anchor::End, "name", &number);
        drawing.text((44.0, y), Anchor::Start, "axis", &title);
        drawing.text((208.0, y), Anchor::End, "axis", &fitted(&short(reading.frequency), 80.0, FONT));
        let sign = format!("mark {}", figures::class(reading.outcome));
        let end = self.form.width - 4.0;
        drawing.text((end - 88.0, y), Anchor::Middle, &sign, figures::sign(reading.outcome));
        if let Some(margin) = reading.margin {
            let words = fitted(&figures::signed(margin), 78.0, FONT);
            drawing.text((end, y), Anchor::End, "axis", &words);
        }
    }

    /// Everything up to the floor is the analyser's noise.
    fn floor(&self, drawing: &mut Drawing, y: f64, level: f64) {
        let (x, half) = (self.x(level), self.form.half - 4.0);
        drawing.rect((self.form.left, y - half), (x - self.form.left, 2.0 * half), "noise");
        drawing.line((x, y - half), (x, y + half), "floor");
    }

    /// Limits as bars over the whole row; the ends of a window have feet that point into it.
    fn limits(&self, drawing: &mut Drawing, y: f64, reading: &Reading) {
        let class = if matches!(reading.limit, Some(Limit::Several(_))) { "limit several" } else { "limit" };
        let half = self.form.half;
        for (index, level) in limit::levels(reading.limit.as_ref()).into_iter().enumerate() {
            let x = self.x(level);
            drawing.line((x, y - half), (x, y + half), class);
            if matches!(reading.limit, Some(Limit::Window { .. })) {
                let foot = if index == 0 { x + 6.0 } else { x - 6.0 };
                for end in [y - half + 1.0, y + half - 1.0] {
                    drawing.line((x, end), (foot, end), "foot");
                }
            }
        }
    }

    fn level(&self, drawing: &mut Drawing, y: f64, (level, span): (f64, f64), bound: bool) {
        let (x, low, high) = (self.x(level), self.x(level - span), self.x(level + span));
        if bound {
            // The true level may be anything down to nothing: the line has no end on that side.
            let left = self.form.left;
            drawing.line((left + 8.0, y), (x, y), "reach");
            drawing.path(&[vec![(left + 9.0, y - 5.0), (left + 1.0, y), (left + 9.0, y + 5.0)]], "arrow");
        }
        if span > 0.0 {
            let start = if bound { x } else { low };
            drawing.line((start, y), (high, y), "whisker");
            drawing.line((high, y - 5.0), (high, y + 5.0), "whisker");
            if !bound {
                drawing.line((low, y - 5.0), (low, y + 5.0), "whisker");
            }
        }
        drawing.dot((x, y), 3.5, if bound { "open" } else { "full" });
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
