//! A run as a PDF that can be handed on.

mod bench;
mod end;
mod front;
mod full;
mod results;

use spurline_record::{Outcome, Reading};

use super::{Column, Fonts, Frame, Paper, Sheets};
use crate::html::summary::worst_first;
use crate::view::{ReportError, RunView};

/// The most readings that do not comply that are shown in full.
const MOST_CONCERNS: usize = 16;

/// The run as a PDF: everything that a test report states, each result in tables, and those that do not comply and
/// those nearest to their limits in full. The same record gives the same bytes.
///
/// # Errors
///
/// [`ReportError::Pdf`].
pub fn pdf(run: &RunView<'_>, paper: Paper) -> Result<Vec<u8>, ReportError> {
    let header = run.header;
    let simulated = if header.simulated.is_some() { "; simulated bench: no evidence" } else { "" };
    let frame = Frame {
        paper,
        title: format!("{}, run {}", run.title(), header.id),
        head_left: run.title(),
        head_right: header.id.to_string(),
        foot: format!("Report {}{simulated}", header.id),
        software: header.software.clone(),
        date: run.ended.or(Some(header.started)),
    };
    Sheets::document(&Fonts::read(), &frame, |sheets| {
        front::write(sheets, run);
        bench::write(sheets, run);
        results::write(sheets, run);
        full::write(sheets, run, &chosen(run));
        end::write(sheets, run);
    })
}

/// The readings that are shown in full: those that do not comply, and of each kind the one with the least margin;
/// the worst first.
fn chosen<'a>(run: &RunView<'a>) -> Vec<&'a Reading> {
    let concerns = [Outcome::Exceeds, Outcome::Invalid, Outcome::Undecided];
    let mut chosen: Vec<&Reading> =
        run.readings.iter().filter(|reading| concerns.contains(&reading.outcome)).collect();
    chosen.sort_by(|one, other| worst_first(one, other));
    chosen.truncate(MOST_CONCERNS);
    for quantity in spurline_record::Quantity::ALL {
        let of_kind = run.readings.iter().filter(|reading| reading.quantity == *quantity);
        let with_margin = of_kind.filter_map(|reading| Some((reading.margin?.value, reading)));
        let least = with_margin.min_by(|one, other| one.0.total_cmp(&other.0));
        if let Some((_, reading)) = least
            && !chosen.iter().any(|known| known.ordinal == reading.ordinal)
        {
            chosen.push(reading);
        }
    }
    chosen.sort_by(|one, other| worst_first(one, other));
    chosen
}

/// The number of a reading as the tables have it.
fn number(reading: &Reading) -> String {
    reading.ordinal.to_string()
}

/// What every table of lines begins with.
const LINE: [(Column, &str); 6] = [
    (Column::Figures, "no."),
    (Column::Words, "reading"),
    (Column::Figures, "MHz"),
    (Column::Figures, "level"),
    (Column::Figures, "limit"),
    (Column::Figures, "margin"),
];

/// A frequency as the tables have it.
fn mhz(reading: &Reading) -> String {
    format!("{:.4}", reading.frequency.mhz())
}
