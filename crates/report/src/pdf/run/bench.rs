//! What was wired, with what, and whether its calibrations were good.

use spurline_record::{LaidCalibration, Role};

use super::super::{BODY, Cell, Column, Ink, Sheets, Table};
use crate::html::{begun_on, equipment};
use crate::issue::NOT_STATED;
use crate::view::RunView;
use crate::{figures, setup};

pub(super) fn write(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    sheets.heading(1, "Set-up");
    sheets.intro(&format!("Bench: {}.", run.header.bench));
    if let Some(drawn) = setup::draw(run.header, run.instruments) {
        let widest = sheets.width();
        sheets.figure(
            drawn.wide,
            widest,
            "Losses are those at the carriers of the plan. Dashed: not used in this run.",
        );
    }
    instruments(sheets, run);
    parts(sheets, run);
}

fn instruments(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    sheets.heading(2, "Instruments");
    if run.instruments.is_empty() {
        sheets.paragraph("No instrument answered.", BODY);
    }
    let mut table = Table::new(&[
        (Column::Words, "part it plays"),
        (Column::Words, "maker, model"),
        (Column::Words, "serial"),
        (Column::Words, "firmware"),
        (Column::Whole, "calibrated"),
        (Column::Whole, "due"),
        (Column::Words, "certificate"),
        (Column::Words, "on the day"),
    ]);
    let calibrations = &run.header.layout.calibrations;
    let row = |table: &mut Table, names: [String; 4], stated: Option<&LaidCalibration>| {
        let day =
            |day: Option<jiff::civil::Date>| day.map_or_else(|| NOT_STATED.to_owned(), |day| day.to_string());
        let standing = match stated {
            Some(one) if one.has_expired(begun_on(run)) => Cell::from("EXPIRED").ink(Ink::BAD).bold(),
            Some(LaidCalibration { due: Some(_), .. }) => "good".into(),
            Some(_) | None => "nothing says".into(),
        };
        let [part, what, serial, firmware] = names.map(Cell::from);
        let certificate = stated.and_then(|one| one.certificate.clone());
        table.row([
            part,
            what,
            serial,
            firmware,
            day(stated.and_then(|one| one.calibrated)).into(),
            day(stated.and_then(|one| one.due)).into(),
            certificate.unwrap_or_else(|| NOT_STATED.to_owned()).into(),
            standing,
        ]);
    };
    let of_role = |role: Role| calibrations.iter().find(move |one| one.role == Some(role));
    for used in run.instruments {
        let it = &used.identity;
        let what = format!("{} {}", it.maker, it.model).trim().to_owned();
        let names = [figures::role(used.role).to_owned(), what, it.serial.clone(), it.firmware.clone()];
        row(&mut table, names, of_role(used.role));
    }
    // What is calibrated and is no instrument that answered: parts of the path.
    for one in calibrations {
        if !run.instruments.iter().any(|used| one.role == Some(used.role)) {
            let what = one.role.map_or_else(|| one.what.clone(), |role| figures::role(role).to_owned());
            row(&mut table, [what, String::new(), String::new(), String::new()], Some(one));
        }
    }
    sheets.table(&table);
    let mut links =
        Table::new(&[(Column::Words, "part"), (Column::Words, "address"), (Column::Words, "profile")]);
    for used in run.instruments {
        links.row([
            figures::role(used.role).into(),
            used.address.clone().into(),
            used.profile.clone().into(),
        ]);
    }
    if !links.is_empty() {
        sheets.heading(3, "How they were spoken to");
    }
    sheets.table(&links);
}

fn parts(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    let mut table = Table::new(&[
        (Column::Words, "part"),
        (Column::Words, "way"),
        (Column::Figures, "loss at the carriers"),
        (Column::Figures, "uncertainty, k = 2"),
        (Column::Whole, "loss known from, to"),
        (Column::Figures, "rated"),
    ]);
    for row in equipment::parts(&run.header.layout, begun_on(run)) {
        let name = match &row.expired {
            Some(told) => Cell::from(format!("{}: {told}", row.part.name)).ink(Ink::BAD).bold(),
            None => row.part.name.clone().into(),
        };
        table.row([
            name,
            row.on.join(", ").into(),
            row.loss.into(),
            row.part.uncertainty.to_string().into(),
            row.covers.into(),
            row.rated.into(),
        ]);
    }
    if !table.is_empty() {
        sheets.heading(2, "Parts of the path");
        sheets.table(&table);
    }
}
