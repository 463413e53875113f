//! Drawings of a comparison: how far each reading shifted over what would have been seen, and its level before and
//! after against its limit. A row for each reading, so that nothing ever overlaps.

use spurline_record::Unit;

use super::change::{Change, Said};
use super::words::signed;
use crate::drawing::{Drawing, Rows, Scale, Width, rows};

const BETWEEN_PANELS: f64 = 14.0;
const STEPS: u32 = 6;

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
    let panel = Rows::new(width, scale, 0.0);
    let mut drawing = Drawing::new(panel.width(), 0.0, &label);
    panel.axis(&mut drawing, "now less before, dB", rows.len());
    for (place, change) in rows.iter().enumerate() {
        let y = panel.row(&mut drawing, place, (&change.title, change.frequency), change.is_real());
        shift(&panel, &mut drawing, y, change);
        let words = change.shift().map(|shift| signed(Unit::Db, shift.shift)).unwrap_or_default();
        panel.right(&mut drawing, place, &words, mark(change));
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
    let mut drawing = Drawing::new(rows::width_of(width), 0.0, &label);
    let mut top = 0.0;
    for rows in [carriers, others] {
        let shown = rows.iter().flat_map(|change| {
            let values = [change.before.value, change.after.value].into_iter().flatten();
            values.chain(change.after.limits.iter().copied()).collect::<Vec<_>>()
        });
        let shown: Vec<f64> = shown.collect();
        let Some(scale) = Scale::over(shown.into_iter(), STEPS) else { continue };
        let panel = Rows::new(width, scale, top);
        panel.axis(&mut drawing, "level at the connector, dBm", rows.len());
        for (place, change) in rows.iter().enumerate() {
            let y = panel.row(&mut drawing, place, (&change.title, change.frequency), change.is_real());
            before_and_after(&panel, &mut drawing, y, change);
            let words = change.after.value.map(|value| format!("{value:.1} dBm")).unwrap_or_default();
            panel.right(&mut drawing, place, &words, mark(change));
        }
        top = panel.bottom(rows.len()) + BETWEEN_PANELS;
    }
    drawing.set_height(top);
    (top > 0.0).then(|| drawing.finish())
}

/// A sign for what really shifted, towards its limit or away from it.
fn mark(change: &Change) -> Option<(&'static str, &'static str)> {
    let towards = change.towards_limit().is_some_and(|by| by > 0.0);
    change.is_real().then_some(if towards { ("mark bad", "✗") } else { ("mark good", "✓") })
}

fn shift(panel: &Rows, drawing: &mut Drawing, y: f64, change: &Change) {
    if let Said::Shift { detectable, .. } = &change.said {
        let (low, high) = (panel.x(-detectable), panel.x(*detectable));
        let half = panel.half() - 4.0;
        drawing.rect((low, y - half), (high - low, 2.0 * half), "noise");
    }
    panel.upright(drawing, 0.0, y, "floor");
    let Some(shift) = change.shift() else { return };
    let x = panel.x(shift.shift);
    match &change.said {
        Said::Shift { interval: [low, high], .. } => {
            let (low, high) = (panel.x(*low), panel.x(*high));
            drawing.line((low, y), (high, y), "whisker");
            for end in [low, high] {
                drawing.line((end, y - 5.0), (end, y + 5.0), "whisker");
            }
        }
        Said::Rise { .. } => panel.endless(drawing, shift.shift, y, true),
        Said::Fall { .. } => panel.endless(drawing, shift.shift, y, false),
        Said::Nothing(_) => {}
    }
    drawing.dot((x, y), 3.5, if change.is_real() { "full" } else { "open" });
}

fn before_and_after(panel: &Rows, drawing: &mut Drawing, y: f64, change: &Change) {
    for limit in &change.after.limits {
        panel.upright(drawing, *limit, y, "limit");
    }
    let (before, after) = (change.before.value, change.after.value);
    if let (Some(before), Some(after)) = (before, after) {
        drawing.line((panel.x(before), y), (panel.x(after), y), "whisker");
    }
    if let Some(before) = before {
        drawing.dot((panel.x(before), y), 4.5, "open");
    }
    if let Some(after) = after {
        drawing.dot((panel.x(after), y), 3.0, "full");
    }
    if let Some(bound) = after.filter(|_| change.after.bound) {
        panel.endless(drawing, bound, y, false);
    }
}
