//! A batch of units as a PDF: what it comes to, who exceeds, who is unlike the others, and a table for each state.

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
    let mut all: Vec<&str> = batch.runs.iter().map(|run| run.run.as_str()).collect();
    all.sort_unstable();
    all.dedup();
    match all.as_slice() {
        [] => "No run".to_owned(),
        [one] => format!("Run {one}"),
        [first, .., last] => format!("{} from {first} to {last}", counted(all.len(), "run")),
    }
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
    let concerns = batch.concerns();
    if concerns.is_empty() {
        sheets.paragraph("Nothing exceeds, and nothing is undecided, invalid or without limit.", BODY);
    }
    for concern in concerns {
        sheets.heading(2, concern.heading);
        sheets.list(&concern.lines, BODY);
    }
    sheets.heading(2, "Unlike the others");
    listed(sheets, batch.odd().map(|(row, dot)| row.told(dot)).collect());
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
        (Column::Words, "units of note"),
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
    let heads = ["unit", "run", "rule", "outcome"].map(|head| (Column::Words, head));
    let mut table = Table::new(&heads);
    for run in &batch.runs {
        let (sign, class) = run.look;
        let cell = Cell::from(format!("{sign} {}", run.word)).ink(Ink::of_class(class));
        table.row([run.serial.as_str().into(), run.run.as_str().into(), run.rule.as_str().into(), cell]);
    }
    sheets.table(&table);
}
