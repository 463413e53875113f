//! Some readings in full: limit, arithmetic, uncertainty, traces.

use spurline_record::{Budget, Quantity, Reading};

use super::super::{BODY, Cell, Column, Ink, SOFT, STRONG, Sheets, Table};
use crate::arithmetic::decision;
use crate::arithmetic::sum::Sum;
use crate::drawing::Drawing;
use crate::html::budget::BudgetTable;
use crate::html::group::Row;
use crate::html::look::Look;
use crate::view::RunView;
use crate::{figures, issue};

/// Less than this at the end of a sheet is no place to begin a reading.
const START: f32 = 150.0;
/// The most looks that are drawn of one reading.
const MOST_LOOKS: usize = 8;

pub(super) fn write(sheets: &mut Sheets<'_>, run: &RunView<'_>, chosen: &[&Reading]) {
    if chosen.is_empty() {
        return;
    }
    sheets.heading(1, "Readings in full");
    sheets.intro(
        "Those that do not comply, and of each kind the one with the smallest margin. The record has the same of every \
         reading.",
    );
    for reading in chosen {
        one(sheets, run, reading);
    }
}

fn one(sheets: &mut Sheets<'_>, run: &RunView<'_>, reading: &Reading) {
    let row = Row::of(reading);
    sheets.need(START);
    sheets.heading(2, &format!("Reading {}: {} at {}", reading.ordinal, row.title, reading.frequency));
    let ink = Ink::of_class(row.class);
    let verdict = format!("{} {}: {}", row.sign, reading.outcome.word(), row.figure);
    sheets.paragraph(&verdict, (STRONG.0, STRONG.1, ink));
    if let Some(reason) = &reading.reason {
        sheets.paragraph(&format!("{} ({})", reason.text, reason.code.code()), BODY);
    }
    let mut table = Table::facts();
    table.fact("State", format!("{}, by the path {}", row.place, reading.scope.path));
    table.fact("Finished", issue::date_and_time(reading.at));
    table.fact("Limit", row.limit.clone());
    if !reading.derivation.source.is_empty() {
        table.fact("Its text", reading.derivation.source.clone());
    }
    for (place, step) in (1..).zip(&reading.derivation.steps) {
        table.fact(&format!("step {place}"), step.clone());
    }
    for remark in &reading.remarks {
        table.fact("Remark", remark.clone());
    }
    sheets.table(&table);
    sum(sheets, reading);
    decided(sheets, run, reading);
    if let Some(budget) = &reading.budget {
        uncertainty(sheets, budget);
    }
    meter(sheets, reading);
    looks(sheets, reading);
}

fn sum(sheets: &mut Sheets<'_>, reading: &Reading) {
    let Some(sum) = Sum::of(reading) else { return };
    sheets.heading(3, "From what was shown to the level");
    let mut table = Table::new(&[(Column::Words, "term"), (Column::Figures, "amount")]);
    for term in &sum.terms {
        table.row([term.what.clone().into(), term.amount.clone().into()]);
    }
    let level = sum.level.clone().unwrap_or_else(|| "–".to_owned());
    let words = format!("level at the connector, whole loss {}", sum.whole_loss);
    table.row([Cell::from(words).bold(), Cell::from(level).bold()]);
    sheets.table(&table);
    if let Some(watts) = &sum.watts {
        sheets.paragraph(watts, super::super::CODE);
    }
}

fn decided(sheets: &mut Sheets<'_>, run: &RunView<'_>, reading: &Reading) {
    let judged = decision::judged(reading, run.header);
    if judged.is_empty() {
        return;
    }
    sheets.heading(3, "Decision");
    for judged in judged {
        for step in &judged.steps {
            sheets.paragraph(step, super::super::CODE);
        }
        let chance = reading
            .conformance_probability
            .map(|chance| format!("; the chance that the limit is kept is {}", figures::chance(chance)))
            .unwrap_or_default();
        sheets.paragraph(
            &format!(
                "So by this arithmetic: {}. Recorded: {}{chance}.",
                judged.verdict,
                reading.outcome.word()
            ),
            BODY,
        );
    }
}

fn uncertainty(sheets: &mut Sheets<'_>, budget: &Budget) {
    sheets.heading(3, "Uncertainty");
    let shown = BudgetTable::of(budget);
    let mut table = Table::new(&[
        (Column::Words, "contribution"),
        (Column::Figures, "stated"),
        (Column::Words, "distribution"),
        (Column::Figures, "divisor"),
        (Column::Figures, "standard u"),
        (Column::Figures, "share of u²"),
        (Column::Words, "from"),
    ]);
    for line in &shown.lines {
        table.row([
            line.line.name.clone().into(),
            line.stated.clone().into(),
            line.line.distribution.clone().into(),
            line.divisor.clone().into(),
            line.standard.clone().into(),
            line.share.clone().into(),
            Cell::from(line.line.source.clone()).ink(Ink::SOFT),
        ]);
    }
    sheets.table(&table);
    let symbol = budget.unit.symbol();
    let found =
        if shown.found.is_empty() { String::new() } else { format!("; the factor is that {}", shown.found) };
    let words = format!(
        "Combined: the root of the sum of u², {:.4} {symbol}², is {}. Expanded: U = {} × {} = {}{found}.",
        shown.squares, shown.combined, shown.factor, shown.combined, shown.expanded
    );
    sheets.paragraph(&words, BODY);
}

fn meter(sheets: &mut Sheets<'_>, reading: &Reading) {
    let mut table = Table::new(&[
        (Column::Whole, "power meter, raw at the sensor, UTC"),
        (Column::Figures, "told"),
        (Column::Figures, "shown"),
        (Column::Words, ""),
    ]);
    for shown in &reading.meter {
        table.row([
            crate::timeline::time(shown.at).into(),
            shown.frequency.to_string().into(),
            format!("{:.3}", shown.level).into(),
            "".into(),
        ]);
    }
    sheets.table(&table);
}

fn looks(sheets: &mut Sheets<'_>, reading: &Reading) {
    // The sweeps of a search are one drawing together, among the results.
    if reading.quantity == Quantity::Search || reading.acquisitions.is_empty() {
        return;
    }
    let mut drawn: Vec<(Drawing, Vec<String>)> = Vec::new();
    let mut left_out = 0;
    for acquisition in &reading.acquisitions {
        let look = Look::of(acquisition, reading);
        let Some(plot) = look.plot else { continue };
        if drawn.len() == MOST_LOOKS {
            left_out += 1;
            continue;
        }
        let keyed = if acquisition.keyed { "keyed" } else { "not keyed" };
        let mut words = vec![format!(
            "{}, {keyed}, {} UTC{}",
            acquisition.purpose,
            crate::timeline::time(acquisition.at),
            look.flags.iter().map(|flag| format!(", {flag}")).collect::<String>(),
        )];
        words.extend(look.key.iter().map(|key| key.words.clone()));
        let settings: Vec<String> =
            look.settings.iter().map(|(name, value)| format!("{name} {value}")).collect();
        words.push(settings.join(", "));
        drawn.push((plot, words));
    }
    sheets.heading(3, "Looks with the analyser");
    if drawn.is_empty() {
        sheets.paragraph(&format!("No drawing: {}.", figures::PRUNED), SOFT);
    }
    sheets.pair(drawn);
    if left_out > 0 {
        sheets
            .paragraph(&format!("{} more in the record.", crate::paragraph::counted(left_out, "look")), SOFT);
    }
}
