//! The last sheets: how the unit was keyed, how all of it is found again, and what the results do not say.

use super::super::{BODY, Cell, Column, Ink, SOFT, STRONG, Sheets, Table};
use crate::view::RunView;
use crate::{figures, html, interlocks, issue, key};

/// For a pen.
const SIGNATURE: &str = "Signature: ________________________________________";
/// What the statements and the end take at the most.
const ENDING: f32 = 230.0;
/// The most key-downs that are listed one by one.
const MOST_KEYED: usize = 60;

pub(super) fn write(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    keyed(sheets, run);
    sheets.heading(1, "Traceability");
    sheets.facts(issue::traces(run));
    sheets.heading(3, "Files of the run, as they were when it began");
    let mut table =
        Table::new(&[(Column::Words, "what"), (Column::Words, "file"), (Column::Words, "SHA-256")]);
    for (place, text) in run.header.texts.iter().enumerate() {
        table.row([
            figures::text_role(text.role).into(),
            text.name.clone().into(),
            Cell::from(issue::digest(run.particulars, place)).mono(),
        ]);
    }
    sheets.table(&table);
    // The end stands together on one sheet.
    sheets.need(ENDING);
    sheets.heading(1, "Statements");
    sheets.list(&issue::STATEMENTS, BODY);
    if let Some(seed) = run.header.simulated {
        let words = format!("Simulated bench, seed {seed}: not evidence about a real transmitter.");
        sheets.paragraph(&words, STRONG);
    }
    sheets.paragraph(
        "A character that the letters of this document lack stands as \u{fffd}; the record has it.",
        SOFT,
    );
    let about = issue::about(run);
    let of = |name: &str| {
        about.iter().find(|(known, _)| *known == name).map(|(_, words)| words.clone()).unwrap_or_default()
    };
    let authorised = format!("Authorised by: {}", of("Authorised by"));
    let issued = format!("Date of issue: {}", of("Date of issue"));
    let end = format!("End of report {}", run.header.id);
    sheets.boxed(&[(&authorised, BODY), (&issued, BODY), (SIGNATURE, BODY), (&end, STRONG)], Ink::BLACK, 0.8);
}

fn keyed(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    let downs = key::downs(run.events);
    sheets.heading(1, "Key-downs");
    let words = key::total(&downs).words();
    let words =
        if words.is_empty() { "The unit was not keyed.".to_owned() } else { format!("Keyed {words}.") };
    sheets.paragraph(&words, BODY);
    let mut table = Table::new(&[
        (Column::Whole, "down at, UTC"),
        (Column::Figures, "for"),
        (Column::Figures, "at most"),
        (Column::Words, "during"),
    ]);
    for down in downs.iter().take(MOST_KEYED) {
        table.row([
            crate::timeline::time(down.at).into(),
            html::held(down).into(),
            down.lease.to_string().into(),
            html::during(down).into(),
        ]);
    }
    sheets.table(&table);
    if downs.len() > MOST_KEYED {
        sheets.paragraph(&format!("And {} more, in the record.", downs.len() - MOST_KEYED), SOFT);
    }
    let mut table = Table::new(&[
        (Column::Whole, "interlock"),
        (Column::Words, "holds"),
        (Column::Words, "why, as told last"),
    ]);
    for interlock in interlocks::last(run.events) {
        let holds = match &interlock.set_aside {
            Some(setting) => Cell::from(format!("set aside: {setting}")).ink(Ink::UNSURE).bold(),
            None if interlock.holds => "yes".into(),
            None => Cell::from("no").ink(Ink::BAD).bold(),
        };
        table.row([interlock.name.word().into(), holds, interlock.why.clone().into()]);
    }
    if !table.is_empty() {
        sheets.heading(3, "What must hold before a key-down");
        sheets.table(&table);
    }
}
