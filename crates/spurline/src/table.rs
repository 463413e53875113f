//! Tables that fit 80 columns; no meaning by colour alone.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets};
use spurline_record::{Limit, Outcome, Reading, RunState, Scope, Unit};
use spurline_store::StoredRun;

use crate::paint;
use crate::talk::{WIDTH, counted, wrapped};

/// Rows of a course that are shown with its run.
const MOST_ROWS: usize = 20;

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

/// Keeps the table to 80 columns: one column gives way, the others are never broken.
pub(crate) fn fit(table: &mut Table, gives_way: usize) {
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(WIDTH as u16);
    for column in table.column_iter_mut().filter(|column| column.index != gives_way) {
        column.set_constraint(ColumnConstraint::ContentWidth);
    }
}

/// Breaks a column of names between words where they are longer than this, so that they leave room for the one that gives
/// way.
pub(crate) fn narrow(table: &mut Table, names: usize, most: u16) {
    let wide = table.column_max_content_widths().get(names).is_some_and(|width| *width > most);
    if let Some(column) = table.column_mut(names).filter(|_| wide) {
        column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(most + PADDING)));
    }
}

/// The readings of a run, a block for each state of unit and bench.
pub(crate) fn readings(readings: &[Reading]) -> String {
    let mut text = String::new();
    let mut rest = readings;
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|reading| reading.scope == first.scope).count();
        let (block, after) = rest.split_at(count);
        text.push_str(&block_text(&first.scope, block));
        rest = after;
    }
    text
}

/// Columns of readings that may be broken.
const WHAT: usize = 1;
const LIMIT: usize = 4;
/// What a column has beside its content.
const PADDING: u16 = 2;
/// With so much room a name is broken between words and not within one.
const LEAST_NAME: u16 = 9;

fn block_text(scope: &Scope, readings: &[Reading]) -> String {
    let supply = scope.supply.as_ref().map_or_else(String::new, |supply| format!(", {supply}"));
    let heading =
        format!("{}, {}, {}{supply}, by {}", scope.channel, scope.carrier, scope.power_setting, scope.path);
    let mut table = table(&["no.", "what", "MHz", "level", "limit", "margin", "U", "outcome"]);
    for reading in readings {
        table.add_row([
            reading.ordinal.to_string(),
            reading.short_title(),
            format!("{:.3}", reading.frequency.mhz()),
            figure(reading, false),
            limit(reading),
            reading.margin.map_or_else(|| "-".to_owned(), |margin| tenths(margin.unit, margin.value)),
            reading
                .budget
                .as_ref()
                .map_or_else(|| "-".to_owned(), |budget| tenths(budget.unit, budget.expanded)),
            reading.outcome.to_string(),
        ]);
    }
    flush_right(&mut table, &[0, 2, 3, 4, 5, 6]);
    fit(&mut table, WHAT);
    // Of ranges of frequencies the limit is broken too, before a name stands letter below letter.
    let all: u16 = table.column_max_content_widths().iter().map(|width| width + PADDING).sum();
    let rest = all - table.column_max_content_widths()[WHAT] - PADDING;
    if rest + LEAST_NAME + PADDING > WIDTH as u16
        && let Some(column) = table.column_mut(LIMIT)
    {
        let words = readings.iter().flat_map(|reading| limit(reading).split_whitespace().map(str::len).max());
        let longest = words.max().unwrap_or_default() as u16;
        column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(longest + PADDING)));
    }
    let mut text = format!("\n{}\n", paint::heading(&wrapped(&heading, 2)));
    text.push_str(&paint::outcomes_at_line_ends(&table.trim_fmt()));
    text.push('\n');
    for reading in readings {
        if let Some(reason) = &reading.reason {
            let line = format!("  {}: {}", reading.ordinal, reason.text);
            text.push_str(&format!("{}\n", wrapped(&line, 4)));
        }
    }
    for reading in readings {
        if let Some(course) = spurline_report::course(reading, MOST_ROWS) {
            text.push_str(&format!("\n  {}: {}\n{course}", reading.ordinal, reading.running_title()));
        }
    }
    text
}

/// What a run came to, in a few lines; of one that did not go to its end, so far.
pub(crate) fn summary(stored: &StoredRun) -> String {
    let readings = &stored.readings;
    let counts = Outcome::ALL.into_iter().filter_map(|outcome| {
        let count = readings.iter().filter(|reading| reading.outcome == outcome).count();
        (count > 0).then(|| format!("{count} {}", paint::outcome(outcome)))
    });
    let counts: Vec<String> = counts.collect();
    let mut text = match counts.as_slice() {
        [] => "no readings\n".to_owned(),
        counts => format!("{}: {}\n", counted(readings.len(), "reading"), counts.join(", ")),
    };
    let margins = readings.iter().filter_map(|reading| Some((reading.margin?.db()?.get(), reading)));
    if let Some((margin, reading)) = margins.min_by(|one, other| one.0.total_cmp(&other.0)) {
        let scope = &reading.scope;
        let line = format!(
            "smallest margin {margin:.1} dB: no. {}, {} of {}, {}",
            reading.ordinal,
            reading.short_title(),
            scope.channel,
            scope.power_setting
        );
        text.push_str(&format!("{}\n", wrapped(&line, 2)));
    }
    let outcome = Outcome::of_run(readings.iter().map(|reading| reading.outcome));
    let without_limit = readings.iter().filter(|reading| reading.outcome == Outcome::NoLimit).count();
    match (outcome, stored.state) {
        (Some(outcome), RunState::Finished) => {
            text.push_str(&format!("outcome: {}", paint::outcome_of_run(outcome, without_limit)));
            text.push_str(match stored.header.reservations.len() {
                0 => "\n",
                1 => ", with this reservation:\n",
                _ => ", with these reservations:\n",
            });
            for reservation in &stored.header.reservations {
                text.push_str(&format!("{}\n", wrapped(&format!("  - {reservation}"), 4)));
            }
        }
        (Some(outcome), state) => text.push_str(&format!(
            "outcome so far: {}; the run did not go to its end: {}\n",
            paint::outcome_of_run(outcome, without_limit),
            state.word()
        )),
        (None, state) => text.push_str(&format!("outcome: none, {}\n", state.word())),
    }
    text
}

/// The level of a reading to a tenth; a bound says that it is one.
pub(crate) fn figure(reading: &Reading, unit: bool) -> String {
    let Some(figure) = &reading.figure else { return "-".to_owned() };
    let bound = if figure.bound { "<= " } else { "" };
    match figure.unit {
        Unit::W if figure.value < 0.1 => format!("{:.2} mW", figure.value * 1e3),
        Unit::W => format!("{:.2} W", figure.value),
        Unit::Dbm if !unit => format!("{bound}{:.1}", figure.value),
        of => format!("{bound}{}", of.show(figure.value, 1)),
    }
}

pub(crate) fn limit(reading: &Reading) -> String {
    match &reading.limit {
        None => "-".to_owned(),
        Some(Limit::Upper { level, .. }) => format!("{:.1}", level.get()),
        Some(Limit::Window { low, high }) => {
            let [low, high] = Limit::shown_window(*low, *high);
            format!("{low}..{high} W")
        }
        Some(Limit::Between { low, high, unit }) => between(*low, *high, *unit),
        Some(Limit::Several(levels)) => {
            levels.iter().map(|level| format!("{:.1}", level.get())).collect::<Vec<_>>().join("|")
        }
    }
}

fn between(low: Option<f64>, high: Option<f64>, unit: Unit) -> String {
    let show = |end| unit.show(end, 1);
    match (low, high) {
        (Some(low), Some(high)) if low == -high => format!("+-{}", show(high)),
        (Some(low), Some(high)) => {
            let (low, high) = (show(low), show(high));
            // As in files, a unit behind the highest holds for both.
            let of_both = low.split_once(' ').filter(|(_, unit)| high.ends_with(&format!(" {unit}")));
            format!("{}..{high}", of_both.map_or(low.as_str(), |(figure, _)| figure))
        }
        (None, Some(high)) => format!("<= {}", show(high)),
        (Some(low), None) => format!(">= {}", show(low)),
        (None, None) => "-".to_owned(),
    }
}

/// Decibels to a tenth without their unit, which the column has; anything else with it, in three digits.
fn tenths(unit: Unit, value: f64) -> String {
    if unit == Unit::Db { format!("{value:.1}") } else { unit.show(in_digits(value), 1) }
}

fn in_digits(value: f64) -> f64 {
    const DIGITS: f64 = 3.0;
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let step = 10_f64.powf(value.abs().log10().floor() + 1.0 - DIGITS);
    (value / step).round() * step
}
