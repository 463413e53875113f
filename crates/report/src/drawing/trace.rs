//! The raw trace of a look with the analyser: all its sweeps, thin, over one another.

use spurline_record::{Acquisition, Sweep};

use super::scale::Scale;
use super::svg::{Anchor, Drawing, Point};
use crate::figures;
use crate::paragraph::counted;

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 190.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 6.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 24.0;
const STEPS: u32 = 6;

/// What is drawn across the trace, at the analyser's input in dBm.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Heights {
    pub(crate) limits: Vec<f64>,
    pub(crate) floor: Option<f64>,
    /// Whether the marker of the look is shown.
    pub(crate) peak: bool,
}

/// Draws the sweeps; `None` if they hold no finite point.
pub(crate) fn trace(look: &Acquisition, heights: &Heights) -> Option<Drawing> {
    let levels = look.sweeps.iter().flat_map(|sweep| sweep.levels.iter().map(|level| f64::from(*level)));
    levels.clone().find(|level| level.is_finite())?;
    let across = heights.limits.iter().copied().chain(heights.floor);
    let scale = Scale::over(levels.chain(across), STEPS)?;
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &label(look, heights));
    for (level, words) in scale.lines() {
        let at = y(&scale, level);
        drawing.line((LEFT, at), (WIDTH - RIGHT, at), "grid");
        drawing.text((LEFT - 6.0, at + 4.0), Anchor::End, "axis", &words);
    }
    for sweep in &look.sweeps {
        drawing.path(&pieces(sweep, look.settings.points, &scale), "trace");
    }
    for limit in &heights.limits {
        drawing.line((LEFT, y(&scale, *limit)), (WIDTH - RIGHT, y(&scale, *limit)), "limit");
    }
    if let Some(floor) = heights.floor {
        drawing.line((LEFT, y(&scale, floor)), (WIDTH - RIGHT, y(&scale, floor)), "floor");
    }
    if heights.peak {
        mark(&mut drawing, look, &scale);
    }
    drawing.text((2.0, 12.0), Anchor::Start, "axis", "level at the analyser's input, dBm");
    let [left, middle, right] = ends(look);
    let foot = HEIGHT - 7.0;
    drawing.text((LEFT, foot), Anchor::Start, "axis", &left);
    drawing.text((f64::midpoint(LEFT, WIDTH - RIGHT), foot), Anchor::Middle, "axis", &middle);
    drawing.text((WIDTH - RIGHT, foot), Anchor::End, "axis", &right);
    Some(drawing)
}

fn label(look: &Acquisition, heights: &Heights) -> String {
    let mut label =
        format!("{}: {} around {}", look.purpose, counted(look.sweeps.len(), "sweep"), look.settings.centre);
    if let (Some((frequency, level)), true) = (look.marker, heights.peak) {
        label.push_str(&format!(", highest {level} at {frequency}"));
    }
    for limit in &heights.limits {
        label.push_str(&format!(", limit at {limit:.2} dBm"));
    }
    if let Some(floor) = heights.floor {
        label.push_str(&format!(", noise floor at {floor:.2} dBm"));
    }
    label
}

fn y(scale: &Scale, level: f64) -> f64 {
    TOP + (1.0 - scale.part(level)) * (HEIGHT - TOP - BOTTOM)
}

/// A small arrow down onto the marker, where it lies within the sweep.
fn mark(drawing: &mut Drawing, look: &Acquisition, scale: &Scale) {
    let Some((frequency, level)) = look.marker else { return };
    let span = look.settings.span.get();
    let part = 0.5 + (frequency - look.settings.centre).get() / span;
    if span > 0.0 && (0.0..=1.0).contains(&part) {
        let (x, tip) = (LEFT + part * (WIDTH - LEFT - RIGHT), y(scale, level.get()) - 2.0);
        let (left, right) = ((x - 5.0, tip - 9.0), (x + 5.0, tip - 9.0));
        drawing.path(&[vec![(x, tip), left, right, (x, tip)]], "peak");
    }
}

/// The points of a sweep, in as many pieces as points that are not finite leave.
fn pieces(sweep: &Sweep, points: u32, scale: &Scale) -> Vec<Vec<Point>> {
    let last = (f64::from(points) - 1.0).max(sweep.levels.len() as f64 - 1.0).max(1.0);
    let placed: Vec<_> = sweep
        .levels
        .iter()
        .enumerate()
        .map(|(point, level)| {
            let x = LEFT + point as f64 / last * (WIDTH - LEFT - RIGHT);
            level.is_finite().then(|| (x, y(scale, f64::from(*level))))
        })
        .collect();
    placed.split(Option::is_none).map(|piece| envelope(piece.iter().copied().flatten())).collect()
}

/// The same line with no more than the highest and the lowest of the points that share one unit of width: more
/// than that cannot be seen.
fn envelope(points: impl Iterator<Item = Point>) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    let mut shared: Vec<Point> = Vec::new();
    for point in points {
        if shared.first().is_some_and(|first| first.0.floor() < point.0.floor()) {
            out.extend(extremes(&shared));
            shared.clear();
        }
        shared.push(point);
    }
    out.extend(extremes(&shared));
    out
}

fn extremes(points: &[Point]) -> Vec<Point> {
    if points.len() <= 2 {
        return points.to_vec();
    }
    let by_height = |one: &&Point, other: &&Point| one.1.total_cmp(&other.1);
    let ends = points.iter().max_by(by_height).into_iter().chain(points.iter().min_by(by_height));
    let mut ends: Vec<Point> = ends.copied().collect();
    ends.sort_by(|one, other| one.0.total_cmp(&other.0));
    ends
}

fn ends(look: &Acquisition) -> [String; 3] {
    if look.settings.span.get() > 0.0 {
        let half = look.settings.span / 2.0;
        let centre = look.settings.centre;
        [centre - half, centre, centre + half].map(|at| format!("{:.3} MHz", at.mhz()))
    } else {
        ["0 s".to_owned(), String::new(), figures::time(look.settings.sweep_time).to_string()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowded_points_keep_their_highest_and_lowest() {
        let points = [(40.0, 5.0), (40.2, 9.0), (40.4, 1.0), (40.6, 4.0), (41.0, 6.0), (42.0, 7.0)];
        let kept = envelope(points.into_iter());
        assert_eq!(kept, [(40.2, 9.0), (40.4, 1.0), (41.0, 6.0), (42.0, 7.0)]);
        assert_eq!(envelope([].into_iter()), []);
    }
}
