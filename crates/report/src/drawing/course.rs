//! A course: figures against time, supply voltage or whatever else the first column of a series holds, a panel for each
//! unit, all over one axis.

mod panel;

use spurline_record::{Column, Reading, Unit};

use super::scale::Scale;
use super::svg::{Anchor, Drawing};
use super::{Width, foot};
use crate::figures;
use panel::{Form, Panel};

/// Under the last panel: the figures of the axis, and what it is.
const FOOT: f64 = 40.0;
/// Steps of the axis.
const STEPS_WIDE: u32 = 10;
const STEPS_NARROW: u32 = 6;

/// Draws the course of a reading against time or supply voltage; `None` for other readings, and where there is nothing
/// to draw.
pub(crate) fn course(reading: &Reading, width: Width) -> Option<Drawing> {
    let series = reading.series.as_ref().filter(|_| crate::course::is_one(reading))?;
    let (along, columns) = series.columns.split_first()?;
    let (wide, steps) = match width {
        Width::Wide => (720.0, STEPS_WIDE),
        Width::Narrow => (360.0, STEPS_NARROW),
    };
    let axis = Scale::within(finite(along), steps)?;
    let by_unit = by_unit(columns);
    let names = by_unit.iter().any(|(_, columns)| columns.len() > 1);
    let form = Form::of(wide, names);
    let mut drawing = Drawing::new(wide, 0.0, &label(reading, along, columns));
    let mut top = 0.0;
    for (unit, columns) in by_unit {
        let Some(panel) = Panel::new(&form, &axis, (unit, along, columns), reading.limit.as_ref(), top)
        else {
            continue;
        };
        panel.draw(&mut drawing);
        top = panel.bottom();
    }
    if top == 0.0 {
        return None;
    }
    let marks = axis.lines().map(|(at, words)| (form.x(&axis, at), words));
    foot::words(&mut drawing, top + 15.0, (2.0, wide - 2.0), marks);
    let middle = f64::midpoint(form.left, form.right);
    drawing.text((middle, top + 33.0), Anchor::Middle, "axis", &named(along));
    drawing.set_height(top + FOOT);
    Some(drawing)
}

/// The columns of each unit, in the order in which the units first come.
fn by_unit(columns: &[Column]) -> Vec<(Unit, Vec<&Column>)> {
    let mut units: Vec<(Unit, Vec<&Column>)> = Vec::new();
    for column in columns {
        match units.iter_mut().find(|(unit, _)| *unit == column.unit) {
            Some((_, same)) => same.push(column),
            None => units.push((column.unit, vec![column])),
        }
    }
    units
}

/// The figures of a column that are any.
fn finite(column: &Column) -> impl Iterator<Item = f64> + Clone {
    column.values.iter().flatten().copied().filter(|value| value.is_finite())
}

fn named(column: &Column) -> String {
    format!("{}, {}", column.name, column.unit.symbol())
}

/// The drawing in words, for those who cannot see it: where each line begins and ends.
fn label(reading: &Reading, along: &Column, columns: &[Column]) -> String {
    let ends = |column: &Column| {
        let show =
            |value: Option<f64>| value.map_or("nothing".to_owned(), |value| column.unit.show(value, 2));
        let (first, last) = (finite(column).next(), finite(column).last());
        format!("{} from {} to {}", column.name, show(first), show(last))
    };
    let lines: Vec<String> = columns.iter().map(ends).collect();
    format!(
        "{}: {}; {}; {}",
        reading.running_title(),
        ends(along),
        lines.join("; "),
        figures::against(reading.limit.as_ref())
    )
}
