//! The raw trace of a look with the analyser.

use spurline_record::Acquisition;

use crate::svg::{Anchor, Drawing};

const WIDTH: f64 = 480.0;
const HEIGHT: f64 = 180.0;
const LEFT: f64 = 48.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 26.0;

/// All sweeps of a look, one thin line each; `None` if it has no points.
pub(crate) fn trace(look: &Acquisition) -> Option<String> {
    let levels = look.sweeps.iter().flat_map(|sweep| sweep.levels.iter().map(|level| f64::from(*level)));
    let high = levels.clone().reduce(f64::max)?;
    let low = levels.reduce(f64::min)?;
    let top = (high / 10.0).ceil() * 10.0;
    let bottom = ((low / 10.0).floor() * 10.0).min(top - 10.0);
    let label =
        format!("{} sweeps around {}, raw, at the analyser's input", look.sweeps.len(), look.settings.centre);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &label);
    let y = |level: f64| TOP + (top - level) / (top - bottom) * (HEIGHT - TOP - BOTTOM);
    for level in [top, f64::midpoint(top, bottom), bottom] {
        drawing.line((LEFT, y(level)), (WIDTH, y(level)), "grid");
        drawing.text((LEFT - 6.0, y(level) + 4.0), Anchor::End, "axis", &format!("{level:.0}"));
    }
    let points = f64::from(look.settings.points.max(2) - 1);
    for sweep in &look.sweeps {
        let path = sweep
            .levels
            .iter()
            .enumerate()
            .map(|(point, level)| (LEFT + point as f64 / points * (WIDTH - LEFT), y(f64::from(*level))));
        drawing.path(path, "trace");
    }
    let (left, right) = if look.settings.span.get() > 0.0 {
        let half = look.settings.span / 2.0;
        (
            format!("{:.3} MHz", (look.settings.centre - half).mhz()),
            format!("{:.3} MHz", (look.settings.centre + half).mhz()),
        )
    } else {
        ("0 s".to_owned(), look.settings.sweep_time.to_string())
    };
    drawing.text((LEFT, HEIGHT - 8.0), Anchor::Start, "axis", &left);
    drawing.text((WIDTH - 2.0, HEIGHT - 8.0), Anchor::End, "axis", &right);
    Some(drawing.finish())
}
