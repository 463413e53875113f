//! Carrier and harmonics of one channel and power setting against their limits.

use spurline_record::{Limit, Quantity, Reading};

use crate::svg::{Anchor, Drawing};

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 44.0;
const STEP_DB: f64 = 20.0;

/// Draws the readings of one scope; `None` if none has a level.
pub(crate) fn harmonics(readings: &[&Reading]) -> Option<String> {
    let levels = readings.iter().filter_map(|reading| reading.figure.map(|figure| figure.level.get()));
    let floors = readings.iter().filter_map(|reading| reading.proof.floor.map(|floor| floor.level.get()));
    let high = levels.clone().reduce(f64::max)?;
    let low = levels.chain(floors).reduce(f64::min)?;
    let top = (high / STEP_DB).ceil() * STEP_DB;
    let bottom = (low / STEP_DB).floor() * STEP_DB;
    let scale = Scale { columns: readings.len() as f64, top, bottom };
    let mut drawing =
        Drawing::new(WIDTH, HEIGHT, "level of the carrier and its harmonics, with limits, in dBm");
    grid(&mut drawing, &scale);
    for (column, reading) in readings.iter().enumerate() {
        stem(&mut drawing, &scale, column as f64, reading);
    }
    Some(drawing.finish())
}

struct Scale {
    columns: f64,
    top: f64,
    bottom: f64,
}

impl Scale {
    fn x(&self, column: f64) -> f64 {
        LEFT + (column + 0.5) * (WIDTH - LEFT - RIGHT) / self.columns
    }

    fn y(&self, level: f64) -> f64 {
        TOP + (self.top - level) / (self.top - self.bottom) * (HEIGHT - TOP - BOTTOM)
    }

    fn half(&self) -> f64 {
        0.4 * (WIDTH - LEFT - RIGHT) / self.columns
    }
}

fn grid(drawing: &mut Drawing, scale: &Scale) {
    let mut level = scale.bottom;
    while level <= scale.top + 0.1 {
        let y = scale.y(level);
        drawing.line((LEFT, y), (WIDTH - RIGHT, y), "grid");
        drawing.text((LEFT - 6.0, y + 4.0), Anchor::End, "axis", &format!("{level:.0}"));
        level += STEP_DB;
    }
    drawing.text((LEFT - 6.0, HEIGHT - 10.0), Anchor::End, "axis", "dBm");
}

fn stem(drawing: &mut Drawing, scale: &Scale, column: f64, reading: &Reading) {
    let (x, half) = (scale.x(column), scale.half());
    let base = scale.y(scale.bottom);
    let name = match (reading.quantity, reading.order) {
        (Quantity::Harmonic, Some(order)) => order.to_string(),
        (Quantity::CarrierPower | Quantity::Harmonic, _) => "carrier".to_owned(),
    };
    drawing.text((x, HEIGHT - 26.0), Anchor::Middle, "axis", &name);
    drawing.text((x, HEIGHT - 10.0), Anchor::Middle, "axis", &format!("{:.1}", reading.frequency.mhz()));
    if let Some(Limit::Upper { level, .. }) = &reading.limit {
        let y = scale.y(level.get());
        drawing.line((x - half, y), (x + half, y), "limit");
    }
    if let Some(floor) = reading.proof.floor {
        let y = scale.y(floor.level.get());
        drawing.line((x - half * 0.6, y), (x + half * 0.6, y), "floor");
    }
    let Some(figure) = reading.figure else {
        drawing.text((x, base - 8.0), Anchor::Middle, "axis", "not read");
        return;
    };
    let y = scale.y(figure.level.get());
    let class = if figure.bound { "stem bound" } else { "stem" };
    drawing.line((x, base), (x, y), class);
    if let Some(budget) = &reading.budget {
        let span = budget.expanded.get();
        let (over, under) = (scale.y(figure.level.get() + span), scale.y(figure.level.get() - span));
        drawing.line((x, over), (x, under), "whisker");
        drawing.line((x - 4.0, over), (x + 4.0, over), "whisker");
        drawing.line((x - 4.0, under), (x + 4.0, under), "whisker");
    }
    drawing.dot((x, y), 3.5, if figure.bound { "open" } else { "full" });
}
