//! The raw trace of a look with the analyser: all its sweeps, thin, over one another.

use spurline_record::{Acquisition, Sweep};

use crate::scale::Scale;
use crate::svg::{Anchor, Drawing};

const WIDTH: f64 = 480.0;
const HEIGHT: f64 = 200.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 4.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 26.0;

/// Draws the sweeps; `None` if they hold no finite point.
pub(crate) fn trace(look: &Acquisition) -> Option<String> {
    let levels = look.sweeps.iter().flat_map(|sweep| sweep.levels.iter().map(|level| f64::from(*level)));
    let scale = Scale::over(levels, TOP, HEIGHT - TOP - BOTTOM)?;
    let label = format!("{} sweeps around {}", look.sweeps.len(), look.settings.centre);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &label);
    scale.draw(&mut drawing, LEFT, WIDTH - RIGHT);
    for sweep in &look.sweeps {
        drawing.path(&pieces(sweep, look.settings.points, &scale), "trace");
    }
    let [left, right] = ends(look);
    drawing.text((2.0, 12.0), Anchor::Start, "axis", "level at the analyser's input, dBm");
    drawing.text((LEFT, HEIGHT - 8.0), Anchor::Start, "axis", &left);
    drawing.text((WIDTH - RIGHT, HEIGHT - 8.0), Anchor::End, "axis", &right);
    Some(drawing.finish())
}

/// The points of a sweep, in as many pieces as points that are not finite leave.
fn pieces(sweep: &Sweep, points: u32, scale: &Scale) -> Vec<Vec<(f64, f64)>> {
    let last = (f64::from(points) - 1.0).max(sweep.levels.len() as f64 - 1.0).max(1.0);
    let placed: Vec<_> = sweep
        .levels
        .iter()
        .enumerate()
        .map(|(point, level)| {
            let x = LEFT + point as f64 / last * (WIDTH - LEFT - RIGHT);
            level.is_finite().then(|| (x, scale.y(f64::from(*level))))
        })
        .collect();
    placed.split(Option::is_none).map(|piece| piece.iter().copied().flatten().collect()).collect()
}

fn ends(look: &Acquisition) -> [String; 2] {
    if look.settings.span.get() > 0.0 {
        let half = look.settings.span / 2.0;
        [look.settings.centre - half, look.settings.centre + half].map(|end| format!("{:.3} MHz", end.mhz()))
    } else {
        ["0 s".to_owned(), look.settings.sweep_time.to_string()]
    }
}
