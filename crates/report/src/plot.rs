//! Carrier and harmonics of one channel and power setting against their limits.

use spurline_record::{Figure, Limit, Outcome, Quantity, Reading};
use spurline_units::Watts;

use crate::figures;
use crate::scale::Scale;
use crate::svg::{Anchor, Drawing};

const RIGHT: f64 = 8.0;
const TOP: f64 = 26.0;

/// For which width of page: the same plot, with fewer words where there is less room for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Width {
    Wide,
    Narrow,
}

struct Frame {
    width: f64,
    height: f64,
    left: f64,
    below: f64,
    columns: f64,
    scale: Scale,
    names: Width,
}

/// Draws the readings of one scope; `None` if none has a level.
pub(crate) fn harmonics(readings: &[&Reading], names: Width) -> Option<String> {
    let (width, height, left, below) = match names {
        Width::Wide => (720.0, 320.0, 44.0, 62.0),
        Width::Narrow => (360.0, 300.0, 32.0, 44.0),
    };
    readings.iter().find(|reading| reading.figure.is_some())?;
    let levels: Vec<f64> = readings.iter().flat_map(|reading| levels(reading)).collect();
    let scale = Scale::over(levels.into_iter(), TOP, height - TOP - below)?;
    let frame = Frame { width, height, left, below, columns: readings.len() as f64, scale, names };
    let mut drawing = Drawing::new(width, height, &label(readings));
    frame.axes(&mut drawing);
    for (column, reading) in readings.iter().enumerate() {
        frame.column(&mut drawing, column as f64, reading);
    }
    Some(drawing.finish())
}

/// Every level that a reading brings into the plot.
fn levels(reading: &Reading) -> Vec<f64> {
    let mut levels = limits(reading);
    if let Some(figure) = &reading.figure {
        let span = whisker(reading);
        levels
            .extend([figure.level.get() - if figure.bound { 0.0 } else { span }, figure.level.get() + span]);
    }
    levels.extend(reading.proof.floor.map(|floor| floor.level.get()));
    levels
}

fn whisker(reading: &Reading) -> f64 {
    reading.budget.as_ref().map_or(0.0, |budget| budget.expanded.get())
}

fn limits(reading: &Reading) -> Vec<f64> {
    match &reading.limit {
        None => Vec::new(),
        Some(Limit::Upper { level, .. }) => vec![level.get()],
        Some(Limit::Several(levels)) => levels.iter().map(|level| level.get()).collect(),
        Some(Limit::Window { low, high }) => [*low, *high]
            .into_iter()
            .filter(|watts| watts.is_finite() && *watts > 0.0)
            .map(|watts| Watts::new(watts).to_dbm().get())
            .collect(),
    }
}

/// The plot in words, for those who cannot see it.
fn label(readings: &[&Reading]) -> String {
    let parts = readings.iter().map(|reading| {
        let figure = figures::figure(reading.figure.as_ref());
        format!("{} {figure}, {}", figures::title(reading), reading.outcome)
    });
    format!("levels against limits: {}", parts.collect::<Vec<_>>().join("; "))
}

impl Frame {
    fn x(&self, column: f64) -> f64 {
        self.left + (column + 0.5) * (self.width - self.left - RIGHT) / self.columns
    }

    fn half(&self) -> f64 {
        (0.4 * (self.width - self.left - RIGHT) / self.columns).min(40.0)
    }

    fn base(&self) -> f64 {
        self.height - self.below
    }

    fn axes(&self, drawing: &mut Drawing) {
        self.scale.draw(drawing, self.left, self.width - RIGHT);
        drawing.text((2.0, 12.0), Anchor::Start, "axis", "level at the connector, dBm");
        let middle = f64::midpoint(self.left, self.width - RIGHT);
        let words = match self.names {
            Width::Wide => "order of the harmonic, and frequency in MHz",
            Width::Narrow => "C: carrier; 2, 3, …: order of the harmonic",
        };
        drawing.text((middle, self.height - 6.0), Anchor::Middle, "axis", words);
    }

    fn column(&self, drawing: &mut Drawing, column: f64, reading: &Reading) {
        let (x, half) = (self.x(column), self.half());
        self.name(drawing, x, reading);
        let limit = if matches!(reading.limit, Some(Limit::Several(_))) { "limit several" } else { "limit" };
        for level in limits(reading) {
            let y = self.scale.y(level);
            drawing.line((x - half, y), (x + half, y), limit);
        }
        if let Some(floor) = reading.proof.floor {
            let y = self.scale.y(floor.level.get());
            drawing.line((x - half * 0.7, y), (x + half * 0.7, y), "floor");
        }
        match &reading.figure {
            None => drawing.text((x, self.base() - 8.0), Anchor::Middle, "axis", "none"),
            Some(figure) => self.stem(drawing, x, reading, figure),
        }
    }

    fn name(&self, drawing: &mut Drawing, x: f64, reading: &Reading) {
        let y = self.base() + 16.0;
        let name = match (reading.quantity, reading.order, self.names) {
            (Quantity::Harmonic, Some(order), _) => order.to_string(),
            (Quantity::CarrierPower | Quantity::Harmonic, _, Width::Wide) => "carrier".to_owned(),
            (Quantity::CarrierPower | Quantity::Harmonic, _, Width::Narrow) => "C".to_owned(),
        };
        drawing.text((x, y), Anchor::Middle, "axis", &name);
        if self.names == Width::Wide {
            let frequency = format!("{:.1}", reading.frequency.mhz());
            drawing.text((x, y + 16.0), Anchor::Middle, "axis", &frequency);
        }
    }

    fn stem(&self, drawing: &mut Drawing, x: f64, reading: &Reading, figure: &Figure) {
        let level = figure.level.get();
        let (y, span) = (self.scale.y(level), whisker(reading));
        let (stem, dot) = if figure.bound { ("stem bound", "open") } else { ("stem", "full") };
        drawing.line((x, self.scale.y(self.scale.bottom())), (x, y), stem);
        let over = self.scale.y(level + span);
        if span > 0.0 {
            // A bound has no lower end: the true level may be anything below it.
            let under = self.scale.y(if figure.bound { level } else { level - span });
            drawing.line((x, over), (x, under), "whisker");
            drawing.line((x - 4.0, over), (x + 4.0, over), "whisker");
            if !figure.bound {
                drawing.line((x - 4.0, under), (x + 4.0, under), "whisker");
            }
        }
        drawing.dot((x, y), 3.5, dot);
        if !matches!(reading.outcome, Outcome::Complies | Outcome::NoLimit) {
            let class = format!("mark {}", figures::class(reading.outcome));
            drawing.text((x, over - 6.0), Anchor::Middle, &class, figures::sign(reading.outcome));
        }
    }
}
