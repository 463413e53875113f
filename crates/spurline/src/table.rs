//! Tables that fit 80 columns; no meaning by colour alone.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use spurline_record::{Limit, Quantity, Reading};

/// An empty table with these headings.
pub(crate) fn table(headings: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_header(headings)
        .set_content_arrangement(ContentArrangement::Disabled);
    table
}

/// Sets figures flush right.
pub(crate) fn flush_right(table: &mut Table, columns: &[usize]) {
    for column in columns {
        if let Some(column) = table.column_mut(*column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

/// The readings of a run.
pub(crate) fn readings(readings: &[Reading]) -> String {
    let mut table = table(&["channel", "power", "what", "MHz", "level", "limit", "margin", "U", "outcome"]);
    for reading in readings {
        let figure = reading.figure.as_ref();
        let level = figure.map_or_else(
            || "-".to_owned(),
            |figure| match reading.quantity {
                Quantity::CarrierPower => format!("{:.2} W", figure.value),
                Quantity::Harmonic => format!("{}{:.1}", if figure.bound { "<= " } else { "" }, figure.value),
            },
        );
        let limit = match &reading.limit {
            None => "-".to_owned(),
            Some(Limit::Upper { level, .. }) => format!("{:.1}", level.get()),
            Some(Limit::Window { low, high }) => {
                let [low, high] = Limit::shown_window(*low, *high);
                format!("{low}..{high}")
            }
            Some(Limit::Several(levels)) => {
                levels.iter().map(|level| format!("{:.1}", level.get())).collect::<Vec<_>>().join("|")
            }
        };
        let tenths = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"));
        table.add_row([
            reading.scope.channel.clone(),
            reading.scope.power_setting.clone(),
            what(reading),
            format!("{:.3}", reading.frequency.mhz()),
            level,
            limit,
            tenths(reading.margin.map(|margin| margin.get())),
            tenths(reading.budget.as_ref().map(|budget| budget.expanded.get())),
            reading.outcome.to_string(),
        ]);
    }
    flush_right(&mut table, &[3, 4, 5, 6, 7]);
    table.trim_fmt()
}

/// What a reading is about, in one short word or two.
pub(crate) fn what(reading: &Reading) -> String {
    match (reading.quantity, reading.order) {
        (Quantity::CarrierPower, _) => "carrier".to_owned(),
        (Quantity::Harmonic, Some(order)) => format!("harm. {order}"),
        (Quantity::Harmonic, None) => "harmonic".to_owned(),
    }
}
