//! A batch of units as a PDF: what it comes to, who exceeds, who is unlike the others, and a table for each state.

use spurline_record::Outcome;
use spurline_units::Hertz;

use super::font::Face;
use super::{BODY, Cell, Column, Fonts, Frame, Ink, Paper, SOFT, STRONG, Sheets, Table};
use crate::batch::{Batch, Row, strips};
use crate::drawing::Width;
use crate::figures;
use crate::issue::STATEMENTS;
use crate::paragraph::counted;
use crate::view::ReportError;

/// So many rows of a drawing fit on one sheet with their heads.
const ROWS: usize = 30;
const LEGEND: &str = "A dot for each unit; a ring is unlike the others, a dashed one an upper bound. Dashed upright line: median. \
    Red upright line: limit.";

/// The batch as a PDF. The same runs give the same bytes.
///
/// # Errors
///
/// [`ReportError::Pdf`].
pub fn batch_pdf(batch: &Batch, paper: Paper) -> Result<Vec<u8>, ReportError> {
    let title = format!("Batch of {}", counted(batch.serials.len(), "unit"));
    let frame = Frame {
        paper,
        title: format!("{title}: {}", batch.plans.join(", ")),
        head_left: batch.plans.join(", "),
        head_right: title.clone(),
        foot: runs(batch),
        software: "spurline".to_owned(),
        date: None,
    };
    Sheets::document(&Fonts::read(), &frame, |sheets| {
        front(sheets, batch, &title);
        states(sheets, batch);
        sheets.need(150.0);
        sheets.heading(1, "Runs of this batch");
        units(sheets, batch);
        sheets.heading(1, "Statements");
        sheets.list(&STATEMENTS, BODY);
        sheets.boxed(&[("End of the batch", STRONG)], Ink::BLACK, 0.8);
    })
}

/// The runs, as short as can be: one by its name, several by the first and the last.
fn runs(batch: &Batch) -> String {
    let mut all: Vec<&str> =
        batch.readings.iter().flat_map(|row| row.units.iter().map(|dot| dot.run.as_str())).collect();
    all.sort_unstable();
    all.dedup();
    match all.as_slice() {
        [] => "No run".to_owned(),
        [one] => format!("Run {one}"),
        [first, .., last] => format!("{} from {first} to {last}", counted(all.len(), "run")),
    }
}

fn told(row: &Row, serial: &str, value: Option<f64>) -> String {
    let value = value.map_or_else(|| "–".to_owned(), |value| format!("{value:.2} {}", row.unit));
    format!("{serial}: {} at {}, {}: {value}", row.title, Hertz::new(row.frequency_hz), row.place)
}

fn front(sheets: &mut Sheets<'_>, batch: &Batch, title: &str) {
    sheets.heading(1, title);
    sheets.paragraph(&batch.plans.join(", "), SOFT);
    let seen = batch.outcome.map(|outcome| outcome.of_run_as_seen(batch.without_limit));
    let ink = Ink::of_class(seen.map_or("soft", figures::class));
    let word = format!("{} {}", seen.map_or("–", figures::sign), batch.word());
    let exceeding = match batch.exceeding.as_slice() {
        [] => "No unit exceeds a limit.".to_owned(),
        some => format!("With something that exceeds: {}", some.join(", ")),
    };
    sheets.boxed(&[(&word, (Face::Bold, 16.0, ink)), (&exceeding, BODY)], ink, 1.6);
    for note in &batch.notes {
        sheets.boxed(&[(note, BODY)], Ink::UNSURE, 0.6);
    }
    sheets.heading(2, "What exceeds");
    let exceeds = batch.readings.iter().flat_map(|row| {
        let of_row = row.units.iter().filter(|dot| dot.outcome == Outcome::Exceeds);
        of_row.map(move |dot| told(row, &dot.serial, dot.value))
    });
    listed(sheets, exceeds.collect());
    sheets.heading(2, "Unlike the others");
    listed(sheets, batch.odd().map(|(row, dot)| told(row, &dot.serial, dot.value)).collect());
    sheets.paragraph(
        "A figure is unlike the others if it lies more than 3.5 robust standard deviations from the median; the robust one is \
         the median of the distances from the median, over 0.6745.",
        SOFT,
    );
}

fn listed(sheets: &mut Sheets<'_>, lines: Vec<String>) {
    if lines.is_empty() {
        sheets.paragraph("None.", BODY);
    } else {
        sheets.list(&lines, BODY);
    }
}

fn states(sheets: &mut Sheets<'_>, batch: &Batch) {
    let mut rest = batch.readings.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|row| row.place == first.place).count();
        let (block, after) = rest.split_at(count);
        sheets.heading(1, &first.place);
        let rows: Vec<&Row> = block.iter().collect();
        for some in rows.chunks(ROWS) {
            if let Some(drawn) = strips(some, Width::Wide) {
                let widest = sheets.width() * 0.94;
                sheets.figure(drawn, widest, LEGEND);
            }
        }
        sheets.table(&table(&rows));
        rest = after;
    }
}

fn table(rows: &[&Row]) -> Table {
    let mut table = Table::new(&[
        (Column::Words, "reading"),
        (Column::Figures, "units"),
        (Column::Figures, "median"),
        (Column::Figures, "spread"),
        (Column::Figures, "limit"),
        (Column::Words, "smallest margin, and whose"),
        (Column::Words, "units that"),
    ]);
    for row in rows {
        table.row([
            format!("{} at {}", row.title, row.frequency()).into(),
            row.units.len().to_string().into(),
            row.shown(row.median.as_ref(), row.unit).into(),
            row.shown(row.deviation.as_ref(), row.unit_of_differences).into(),
            row.limit.clone().into(),
            row.least().into(),
            row.counts().into(),
        ]);
    }
    table
}

fn units(sheets: &mut Sheets<'_>, batch: &Batch) {
    let mut runs: Vec<(&str, &str, Outcome)> = Vec::new();
    for dot in batch.readings.iter().flat_map(|row| &row.units) {
        match runs.iter_mut().find(|(run, ..)| *run == dot.run) {
            Some((.., outcome)) => *outcome = (*outcome).max(dot.outcome),
            None => runs.push((&dot.run, &dot.serial, dot.outcome)),
        }
    }
    let mut table =
        Table::new(&[(Column::Words, "unit"), (Column::Words, "run"), (Column::Words, "outcome")]);
    for (run, serial, outcome) in runs {
        let cell = Cell::from(format!("{} {}", figures::sign(outcome), outcome.word()));
        table.row([serial.into(), run.into(), cell.ink(Ink::of_class(figures::class(outcome)))]);
    }
    sheets.table(&table);
}
