//! What is written into the table file.

use jiff::civil::Date;
use spurline_path::{Calibration, Measured, MeasuredPoint, MeasuredTable};
use spurline_plan::{Bench, Substitution};
use spurline_record::{InstrumentUsed, Role};
use spurline_runner::SOFTWARE;
use spurline_sequencer::MeasuredPath;

/// The table of a path that was measured soundly, good from the first to the second day.
pub(super) fn table(
    bench: &Bench,
    planned: &Substitution,
    measured: &MeasuredPath,
    repeats: u32,
    (day, due): (Date, Date),
    simulated: Option<u64>,
) -> MeasuredTable {
    let used = |role| measured.instruments.iter().find(move |used: &&InstrumentUsed| used.role == role);
    let pair = [Role::Generator, planned.with];
    let serials: Vec<String> =
        pair.iter().filter_map(|role| Some(format!("{role} {}", used(*role)?.identity.serial))).collect();
    let instruments = pair.iter().filter_map(|role| {
        let found = &used(*role)?.identity;
        Some(format!("{role}: {}, {}, {}, {}", found.maker, found.model, found.serial, found.firmware))
    });
    let whole = if planned.stretch.whole { "the whole path" } else { "parts of the path" };
    let mut remarks = vec![
        format!("Loss of {whole} `{}`: {}.", planned.stretch.name, planned.stretch.names.join(", ")),
        "Measured by substitution: `spurline path --help`. Name this file as a part of a bench.".to_owned(),
    ];
    if simulated.is_some() {
        remarks.push("Of a simulated bench: invented data.".to_owned());
    }
    remarks.extend(planned.notes.iter().map(|note| format!("Note: {note}.")));
    remarks.extend(measured.left_out.iter().map(|why| format!("Left out: {why}.")));
    let points = measured.losses.iter().map(|loss| MeasuredPoint {
        frequency: loss.frequency,
        loss: loss.loss,
        uncertainty: loss.expanded,
        spread: loss.spread,
    });
    MeasuredTable {
        remarks,
        calibration: Calibration {
            calibrated: Some(day),
            due: Some(due),
            certificate: Some(format!("by substitution with {}", serials.join(" and "))),
        },
        measured: Measured {
            by: SOFTWARE.to_owned(),
            bench: bench.title.clone(),
            path: planned.stretch.name.clone(),
            with: if planned.with == Role::PowerMeter { "power_meter" } else { "analyser" }.to_owned(),
            instruments: instruments.collect(),
            repeats,
            drift: measured.drift,
            simulated,
        },
        points: points.collect(),
    }
}
