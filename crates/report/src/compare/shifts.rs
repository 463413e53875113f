//! Drawings of a comparison: how far each reading shifted over what would have been seen, and its level before and
//! after against its limit. A row for each reading, so that nothing ever overlaps.

use spurline_record::Unit;
use spurline_units::Hertz;

use super::change::{Change, Said};
use super::words::signed;
use crate::drawing::{Anchor, Drawing, Scale, Width, fitted};

/// The size of the font, which the style sheet repeats.
const FONT: f64 = 12.0;
/// From the top of a panel to its first row: what the axis is, and its figures.
const HEAD: f64 = 38.0;
const BETWEEN_PANELS: f64 = 14.0;
const STEPS: u32 = 6;

/// Where things stand in a row, from the left.
struct Form {
    width: f64,
    row: f64,
    left: f64,
    right: f64,
    words: f64,
    middle: f64,
    half: f64,
}

const WIDE: Form =
    Form { width: 720.0, row: 22.0, left: 230.0, right: 616.0, words: 15.0, middle: 11.0, half: 11.0 };
const NARROW: Form =
    Form { width: 360.0, row: 42.0, left: 18.0, right: 342.0, words: 14.0, middle: 29.0, half: 10.0 };

const fn form(width: Width) -> &'static Form {
    match width {
        Width::Wide => &WIDE,
        Width::Narrow => &NARROW,
    }
}

/// How far the readings of one state shifted; `None` if nothing of it can be said in decibels.
pub(super) fn shifts(changes: &[&Change], width: Width) -> Option<String> {
    let rows: Vec<&Change> =
        changes.iter().copied().filter(|one| one.is_compared() && one.unit == Unit::Db).collect();
    let reach = rows.iter().flat_map(|change| match &change.said {
        Said::Shift { interval, detectable, .. } => vec![interval[0], interval[1], -detectable, *detectable],
        Said::Rise { shift, .. } | Said::Fall { shift, .. } => vec![shift.shift],
        Said::Nothing(_) => Vec::new(),
    });
    let reach: Vec<f64> = reach.chain([0.0]).filter(|value| value.is_finite()).collect();
    if rows.is_empty() {
        return None;
    }
    let scale = Scale::over(reach.into_iter(), STEPS)?;
    let words = rows.iter().map(|change| format!("{}: {}", change.title, change.statement()));
    let label = format!("shift of each reading. {}", words.collect::<Vec<_>>().join(". "));
    let panel = Panel { form: form(width), scale, top: 0.0 };
    let mut drawing = Drawing::new(panel.form.width, 0.0, &label);
    panel.axis(&mut drawing, "now less before, dB", rows.len());
    for (place, change) in rows.iter().enumerate() {
        let y = panel.row(&mut drawing, place, change);
        panel.shift(&mut drawing, y, change);
        let words = change.shift().map(|shift| signed(Unit::Db, shift.shift)).unwrap_or_default();
        panel.right(&mut drawing, place, &words, change);
    }
    drawing.set_height(panel.bottom(rows.len()));
    Some(drawing.finish())
}

/// The levels of one state before and after against their limits; `None` if there are none.
pub(super) fn levels(changes: &[&Change], width: Width) -> Option<String> {
    let has_level = |change: &&&Change| {
        change.unit == Unit::Db && (change.before.value.is_some() || change.after.value.is_some())
    };
    let rows: Vec<&Change> = changes.iter().filter(has_level).copied().collect();
    // A window is that of a carrier, far above everything else.
    let (carriers, others): (Vec<&Change>, Vec<&Change>) =
        rows.iter().partition(|change| change.after.limits.len() == 2);
    let words = rows.iter().map(|change| {
        format!(
            "{}: {} before, {} now, limit {}",
            change.title, change.before.figure, change.after.figure, change.after.limit
        )
    });
    let label = format!("levels before and now. {}", words.collect::<Vec<_>>().join(". "));
    let mut drawing = Drawing::new(form(width).width, 0.0, &label);
    let mut top = 0.0;
    for rows in [carriers, others] {
        let shown = rows.iter().flat_map(|change| {
            let values = [change.before.value, change.after.value].into_iter().flatten();
            values.chain(change.after.limits.iter().copied()).collect::<Vec<_>>()
        });
        let shown: Vec<f64> = shown.collect();
        let Some(scale) = Scale::over(shown.into_iter(), STEPS) else { continue };
        let panel = Panel { form: form(width), scale, top };
        panel.axis(&mut drawing, "level at the connector, dBm", rows.len());
        for (place, change) in rows.iter().enumerate() {
            let y = panel.row(&mut drawing, place, change);
            panel.before_and_after(&mut drawing, y, change);
            let words = change.after.value.map(|value| format!("{value:.1} dBm")).unwrap_or_default();
            panel.right(&mut drawing, place, &words, change);
        }
        top = panel.bottom(rows.len()) + BETWEEN_PANELS;
    }
    drawing.set_height(top);
    (top > 0.0).then(|| drawing.finish())
}

struct Panel {
    form: &'static Form,
    scale: Scale,
    top: f64,
}

impl Panel {
    fn bottom(&self, rows: usize) -> f64 {
        self.top + HEAD + rows as f64 * self.form.row
    }

    fn x(&self, value: f64) -> f64 {
        self.form.left + self.scale.part(value) * (self.form.right - self.form.left)
    }

    fn axis(&self, drawing: &mut Drawing, what: &str, rows: usize) {
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
    fn row(&self, drawing: &mut Drawing, place: usize, change: &Change) -> f64 {
        let top = self.top + HEAD + place as f64 * self.form.row;
        let class = if change.is_real() { "name" } else { "axis" };
        drawing.text((4.0, top + self.form.words), Anchor::Start, class, &fitted(&change.title, 126.0, FONT));
        let at = fitted(&short(change.frequency), 80.0, FONT);
        drawing.text((218.0, top + self.form.words), Anchor::End, "axis", &at);
        top + self.form.middle
    }

    fn right(&self, drawing: &mut Drawing, place: usize, words: &str, change: &Change) {
        let y = self.top + HEAD + place as f64 * self.form.row + self.form.words;
        let end = self.form.width - 4.0;
        drawing.text((end, y), Anchor::End, "axis", &fitted(words, 80.0, FONT));
        if change.is_real() {
            let towards = change.towards_limit().is_some_and(|by| by > 0.0);
            let (class, sign) = if towards { ("mark bad", "✗") } else { ("mark good", "✓") };
            drawing.text((end - 90.0, y), Anchor::Middle, class, sign);
        }
    }

    fn shift(&self, drawing: &mut Drawing, y: f64, change: &Change) {
        let half = self.form.half - 4.0;
        if let Said::Shift { detectable, .. } = &change.said {
            let (low, high) = (self.x(-detectable), self.x(*detectable));
            drawing.rect((low, y - half), (high - low, 2.0 * half), "noise");
        }
        let zero = self.x(0.0);
        drawing.line((zero, y - self.form.half), (zero, y + self.form.half), "floor");
        let Some(shift) = change.shift() else { return };
        let x = self.x(shift.shift);
        match &change.said {
            Said::Shift { interval: [low, high], .. } => {
                let (low, high) = (self.x(*low), self.x(*high));
                drawing.line((low, y), (high, y), "whisker");
                for end in [low, high] {
                    drawing.line((end, y - 5.0), (end, y + 5.0), "whisker");
                }
            }
            Said::Rise { .. } => self.arrow(drawing, (x, y), self.form.right - 2.0),
            Said::Fall { .. } => self.arrow(drawing, (x, y), self.form.left + 2.0),
            Said::Nothing(_) => {}
        }
        drawing.dot((x, y), 3.5, if change.is_real() { "full" } else { "open" });
    }

    /// From a place on without end.
    fn arrow(&self, drawing: &mut Drawing, (x, y): (f64, f64), end: f64) {
        drawing.line((x, y), (end, y), "reach");
        let back = if end > x { end - 8.0 } else { end + 8.0 };
        drawing.path(&[vec![(back, y - 5.0), (end, y), (back, y + 5.0)]], "arrow");
    }

    fn before_and_after(&self, drawing: &mut Drawing, y: f64, change: &Change) {
        for limit in &change.after.limits {
            let x = self.x(*limit);
            drawing.line((x, y - self.form.half), (x, y + self.form.half), "limit");
        }
        let (before, after) = (change.before.value, change.after.value);
        if let (Some(before), Some(after)) = (before, after) {
            drawing.line((self.x(before), y), (self.x(after), y), "whisker");
        }
        if let Some(before) = before {
            drawing.dot((self.x(before), y), 4.5, "open");
        }
        if let Some(after) = after {
            drawing.dot((self.x(after), y), 3.0, "full");
        }
        let bound = after.filter(|_| change.after.bound);
        if let Some(bound) = bound {
            self.arrow(drawing, (self.x(bound), y), self.form.left + 2.0);
        }
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
