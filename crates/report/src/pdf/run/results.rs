//! The results of each state of unit and bench: levels, proofs, settings.

use spurline_record::{Acquisition, Reading};
use spurline_units::{Db, Dbm};

use super::super::{BODY, Cell, Column, Ink, SOFT, Sheets, Table};
use super::{LINE, mhz, number};
use crate::drawing::{self, Width};
use crate::html::group::Row;
use crate::view::RunView;
use crate::{figures, scope};

/// So many rows of a drawing fit on one sheet with their heads.
const ROWS: usize = 30;
const LEGEND: &str = "Dot and bar: level ± U. Ring, dashed to the left: upper bound + U. Red upright line: limit, dashed where \
    several are possible, with feet where it is a window. Grey: up to the noise floor.";

pub(super) fn write(sheets: &mut Sheets<'_>, run: &RunView<'_>) {
    sheets.heading(1, "Results");
    if run.readings.is_empty() {
        sheets.paragraph("Nothing was read.", BODY);
    }
    for (state, members) in scope::by_state(run.readings) {
        sheets.heading(2, &scope::name(state));
        let mut paths: Vec<&str> = members.iter().map(|reading| reading.scope.path.as_str()).collect();
        paths.dedup();
        sheets.intro(&format!("Path: {}.", paths.join(", ")));
        for some in members.chunks(ROWS) {
            if let Some(drawn) = drawing::levels(some, Width::Wide) {
                let widest = sheets.width() * 0.94;
                sheets.figure(drawn, widest, LEGEND);
            }
        }
        levels(sheets, &members);
        courses(sheets, &members);
        proofs(sheets, &members);
        steps(sheets, &members);
        settings(sheets, &members);
    }
}

fn levels(sheets: &mut Sheets<'_>, members: &[&Reading]) {
    sheets.heading(3, "Levels and limits");
    let mut table = Table::new(
        &[
            &LINE[..],
            &[(Column::Figures, "U"), (Column::Figures, "keeps it"), (Column::Words, "outcome, and why")],
        ]
        .concat(),
    );
    let several = members.iter().any(|reading| reading.scope.path != members[0].scope.path);
    for reading in members {
        let row = Row::of(reading);
        let by = if several { format!(", by {}", reading.scope.path) } else { String::new() };
        let mut why = format!("{} {}", row.sign, reading.outcome.word());
        if let Some(reason) = &reading.reason {
            why.push_str(&format!(": {} ({})", reason.text, reason.code.code()));
        }
        table.row([
            number(reading).into(),
            format!("{}{by}", row.title).into(),
            mhz(reading).into(),
            row.figure.clone().into(),
            row.limit.clone().into(),
            row.margin.clone().into(),
            row.expanded.clone().into(),
            row.chance().into(),
            Cell::from(why).ink(Ink::of_class(row.class)),
        ]);
    }
    sheets.table(&table);
    let remarks = members.iter().flat_map(|reading| {
        reading.remarks.iter().map(|remark| format!("Reading {}: {remark}", reading.ordinal))
    });
    let remarks: Vec<String> = remarks.collect();
    if !remarks.is_empty() {
        sheets.heading(3, "Remarks");
        sheets.list(&remarks, (SOFT.0, 7.5, Ink::BLACK));
    }
}

/// Searched spectra, and courses against time or supply voltage.
fn courses(sheets: &mut Sheets<'_>, members: &[&Reading]) {
    for reading in members {
        let widest = sheets.width() * 0.94;
        if let Some(drawn) = drawing::spectrum(reading, members, Width::Wide) {
            sheets.figure(drawn, widest, &format!("Reading {}: the searched spectrum.", reading.ordinal));
        }
        if let Some(drawn) = drawing::course(reading, Width::Wide) {
            sheets.figure(drawn, widest, &format!("Reading {}: its course.", reading.ordinal));
        }
    }
}

fn level(level: Option<Dbm>) -> Cell {
    level.map_or_else(|| "–".into(), |level| format!("{:.2}", level.get()).into())
}

fn ratio(ratio: Option<Db>) -> Cell {
    ratio.map_or_else(|| "–".into(), |ratio| format!("{:.2}", ratio.get()).into())
}

/// From what was shown to the level, and whether it stands clear of noise and of the analyser's own products.
fn proofs(sheets: &mut Sheets<'_>, members: &[&Reading]) {
    let mut table = Table::new(&[
        (Column::Figures, "no."),
        (Column::Figures, "shown"),
        (Column::Figures, "noise off"),
        (Column::Figures, "path loss"),
        (Column::Figures, "level"),
        (Column::Figures, "floor"),
        (Column::Figures, "D"),
        (Column::Figures, "own product ≤"),
        (Column::Figures, "not keyed"),
        (Column::Figures, "at the mixer"),
        (Column::Figures, "spread"),
        (Column::Figures, "marker - trace"),
    ]);
    let with_proof =
        |reading: &&&Reading| reading.correction.is_some() || reading.proof != Default::default();
    for reading in members.iter().filter(with_proof) {
        let (correction, proof) = (reading.correction.as_ref(), &reading.proof);
        let bound = reading.figure.is_some_and(|figure| figure.bound);
        let shown = reading.level().map_or_else(
            || "–".to_owned(),
            |level| format!("{}{:.2}", if bound { "≤ " } else { "" }, level.get()),
        );
        table.row([
            number(reading).into(),
            level(correction.map(|correction| correction.raw)),
            ratio(correction.map(|correction| correction.noise)),
            ratio(correction.map(|correction| correction.path_loss)),
            shown.into(),
            level(proof.floor.map(|floor| floor.level)),
            ratio(proof.floor.map(|floor| floor.distance)),
            level(proof.own_distortion),
            level(proof.unkeyed),
            level(proof.mixer_level),
            ratio(proof.spread),
            ratio(proof.marker_difference),
        ]);
    }
    if table.is_empty() {
        return;
    }
    sheets.heading(3, "From what was shown to the level, and what proves it");
    sheets.intro(
        "Levels in dBm, at the connector but for what was shown and what is at the mixer; differences in dB. D is how far the \
         reading stands above the floor in its own settings. What was there while the unit was not keyed is not the unit's.",
    );
    sheets.table(&table);
}

/// Lines by several looks: with another attenuation what the analyser makes itself goes another way than the line.
fn steps(sheets: &mut Sheets<'_>, members: &[&Reading]) {
    let mut table = Table::new(&[
        (Column::Figures, "no."),
        (Column::Figures, "look"),
        (Column::Figures, "attenuation"),
        (Column::Figures, "RBW"),
        (Column::Figures, "level"),
        (Column::Figures, "own product ≤"),
        (Column::Words, ""),
    ]);
    for reading in members {
        for (place, step) in (1..).zip(&reading.proof.steps) {
            table.row([
                number(reading).into(),
                place.to_string().into(),
                format!("{:.0}", step.attenuation).into(),
                step.rbw.to_string().into(),
                format!("{}{:.2}", if step.bound { "≤ " } else { "" }, step.level).into(),
                step.own_distortion.map_or_else(|| "–".to_owned(), |own| own.to_string()).into(),
                "".into(),
            ]);
        }
    }
    if !table.is_empty() {
        sheets.heading(3, "Steps of attenuation and bandwidth");
        sheets.table(&table);
    }
}

/// The look that a figure was read from.
pub(super) fn read_from(reading: &Reading) -> Option<&Acquisition> {
    let named =
        reading.proof.read_from.and_then(|place| reading.acquisitions.get((place as usize).checked_sub(1)?));
    let keyed = || reading.acquisitions.iter().rev().find(|look| look.keyed);
    named.or_else(keyed).or(reading.acquisitions.last())
}

fn settings(sheets: &mut Sheets<'_>, members: &[&Reading]) {
    let mut table = Table::new(&[
        (Column::Figures, "no."),
        (Column::Words, "look"),
        (Column::Figures, "centre MHz"),
        (Column::Figures, "span"),
        (Column::Figures, "RBW"),
        (Column::Figures, "VBW"),
        (Column::Whole, "detector"),
        (Column::Figures, "points"),
        (Column::Figures, "sweeps"),
        (Column::Figures, "att."),
        (Column::Whole, "preamp."),
        (Column::Figures, "ref. level"),
    ]);
    for reading in members {
        let Some(look) = read_from(reading) else { continue };
        let set = &look.settings;
        let flags = [(look.flags.overload, ", overload"), (look.flags.uncalibrated, ", uncalibrated")];
        let flags: String = flags.into_iter().filter_map(|(there, word)| there.then_some(word)).collect();
        let sweeps = match look.sweeps.len() {
            0 => figures::time(set.sweep_time).to_string(),
            count => format!("{count} × {}", figures::time(set.sweep_time)),
        };
        table.row([
            number(reading).into(),
            format!("{}{flags}", look.purpose).into(),
            format!("{:.4}", set.centre.mhz()).into(),
            set.span.to_string().into(),
            set.rbw.to_string().into(),
            set.vbw.to_string().into(),
            set.detector.word().into(),
            set.points.to_string().into(),
            sweeps.into(),
            format!("{:.0}", set.attenuation).into(),
            set.preamplifier.word().into(),
            format!("{:.0}", set.reference_level).into(),
        ]);
    }
    if !table.is_empty() {
        sheets.heading(3, "Settings that each was read with");
        sheets.table(&table);
    }
}
