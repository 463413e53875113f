//! The levels of one scope against their limits: a row for each reading, so that nothing ever overlaps.

mod panel;

use spurline_record::{Limit, Quantity, Reading, Unit};

use super::Width;
use super::scale::Scale;
use super::svg::Drawing;
use crate::{figures, limit};
use panel::Panel;

const BETWEEN_PANELS: f64 = 14.0;
const STEPS: u32 = 6;

/// Draws the readings of one scope, the carrier on a scale of its own; `None` if none has a level.
pub(crate) fn levels(readings: &[&Reading], width: Width) -> Option<Drawing> {
    let form = panel::form(width);
    readings.iter().find(|reading| reading.figure.is_some_and(|figure| figure.level.is_some()))?;
    let mut drawing = Drawing::new(form.width, 0.0, &label(readings));
    let mut top = 0.0;
    let (carriers, others): (Vec<&Reading>, Vec<&Reading>) =
        readings.iter().filter(|reading| has_level(reading)).partition(|reading| is_of_carrier(reading));
    for rows in [carriers, others] {
        if let Some(scale) = scale(&rows) {
            let panel = Panel { form, scale, top, rows };
            panel.draw(&mut drawing);
            top = panel.bottom() + BETWEEN_PANELS;
        }
    }
    drawing.set_height(top);
    Some(drawing)
}

fn scale(readings: &[&Reading]) -> Option<Scale> {
    let levels: Vec<f64> = readings.iter().flat_map(|reading| shown(reading)).collect();
    Scale::over(levels.into_iter(), STEPS)
}

/// Every level that a reading brings into the plot.
fn shown(reading: &Reading) -> Vec<f64> {
    let mut levels = limit::levels(reading.limit.as_ref());
    if let Some((figure, level)) = reading.figure.as_ref().and_then(|figure| Some((figure, figure.level?))) {
        let (level, span) = (level.get(), whisker(reading));
        levels.extend([level - if figure.bound { 0.0 } else { span }, level + span]);
    }
    levels.extend(reading.proof.floor.map(|floor| floor.level.get()));
    levels
}

/// Whether a reading is of the carrier's own power, far above everything else.
fn is_of_carrier(reading: &Reading) -> bool {
    reading.quantity == Quantity::CarrierPower || matches!(reading.limit, Some(Limit::Window { .. }))
}

/// Whether a reading belongs on a scale of levels.
fn has_level(reading: &Reading) -> bool {
    reading.figure.is_none_or(|figure| figure.level.is_some())
        && !matches!(reading.limit, Some(Limit::Between { unit, .. }) if unit != Unit::Dbm)
}

fn whisker(reading: &Reading) -> f64 {
    reading.budget.as_ref().map_or(0.0, |budget| budget.expanded.abs())
}

/// The plot in words, for those who cannot see it.
fn label(readings: &[&Reading]) -> String {
    let parts = readings.iter().map(|reading| {
        format!(
            "reading {}, {}: {}, {}, {}",
            reading.ordinal,
            reading.running_title(),
            figures::level(reading.figure.as_ref()),
            figures::against(reading.limit.as_ref()),
            reading.outcome
        )
    });
    format!("levels against limits. {}", parts.collect::<Vec<_>>().join(". "))
}
