//! A measured path as a table, as a document, and as it comes about.

use std::path::Path;

use serde_json::{Value, json};
use spurline_path::MeasuredTable;
use spurline_plan::Substitution;
use spurline_record::Role;
use spurline_sequencer::{MeasuredLoss, MeasuredPath, PathOutcome, PathProgress};
use spurline_units::Db;

use crate::table::{flush_right, table};
use crate::talk::{counted, say, wrapped};

const LEGEND: &str = "U: the uncertainty of the loss, expanded, k = 2; spread: the standard deviation of the repeats; drift: \
    the last level straight less the first; * asked for by the plan or with --at";

/// What will be done, for a person who may still say no.
pub(super) fn before(planned: &Substitution, repeats: u32) {
    let instrument = if planned.with == Role::PowerMeter { "power meter" } else { "analyser" };
    let (points, stretch) = (&planned.points, &planned.stretch);
    let ends = points.first().zip(points.last());
    let range = ends
        .map_or_else(String::new, |(first, last)| format!(" from {} to {}", first.frequency, last.frequency));
    let needed = points.iter().filter(|point| point.needed).count();
    let text = format!(
        "path `{}` ({}), read with the {instrument}: {}{range}, {needed} of them asked for; {} of generator and path",
        stretch.name,
        stretch.names.join(", "),
        counted(points.len(), "frequency").replace("frequencys", "frequencies"),
        counted(2 * repeats as usize + 1, "connection"),
    );
    say(&wrapped(&text, 0));
    for note in &planned.notes {
        say(&wrapped(&format!("note: {note}"), 6));
    }
}

/// What happens, for a person who waits.
pub(super) fn told(what: PathProgress<'_>) {
    match what {
        PathProgress::Doing(what) => say(&format!("  {what}")),
        PathProgress::Read { .. } => {}
    }
}

/// The table of all losses and what they come to.
pub(super) fn table_of(planned: &Substitution, measured: &MeasuredPath) -> String {
    let mut rows = table(&["", "MHz", "loss dB", "U", "spread", "drift", "most of U"]);
    for loss in &measured.losses {
        rows.add_row([
            if loss.needed { "*" } else { "" }.to_owned(),
            format!("{:.6}", loss.frequency.mhz()),
            format!("{:.3}", loss.loss.get()),
            format!("{:.3}", loss.expanded.get()),
            format!("{:.3}", loss.spread.get()),
            format!("{:+.3}", loss.drift.get()),
            most_of(loss).to_owned(),
        ]);
    }
    flush_right(&mut rows, &[1, 2, 3, 4, 5]);
    let mut text = format!("{}\n\n{}\n\n", wrapped(LEGEND, 0), rows.trim_fmt());
    for why in &measured.left_out {
        text.push_str(&format!("{}\n", wrapped(&format!("left out: {why}"), 2)));
    }
    if let Some((at, bend)) = &measured.bend {
        text.push_str(&format!(
            "{}\n",
            wrapped(
                &format!(
                    "between the points: off a straight line by {:.3} dB at most, near {at}; a quarter of what each \
                     point is off is in its U",
                    bend.get() / 4.0
                ),
                0
            )
        ));
    }
    text.push_str(&format!(
        "drift: {:+.3} dB at most, {:.3} dB allowed\n",
        measured.drift.get(),
        measured.largest_drift.get()
    ));
    let name = &planned.stretch.name;
    match &measured.outcome {
        PathOutcome::Sound => {
            let most = measured.losses.iter().fold(Db::default(), |most, loss| most.max(loss.expanded));
            text.push_str(&format!(
                "`{name}`: {}, U up to {:.3} dB\n",
                counted(measured.losses.len(), "point"),
                most.get()
            ));
        }
        PathOutcome::Invalid(why) => {
            text.push_str(&format!(
                "{}\n",
                wrapped(&format!("`{name}`: invalid, nothing was written: {why}"), 2)
            ));
        }
    }
    text
}

/// The line of a budget that weighs most.
fn most_of(loss: &MeasuredLoss) -> &str {
    let lines = loss.budget.lines.iter();
    let most = lines.max_by(|one, other| one.standard.total_cmp(&other.standard));
    most.map_or("-", |line| line.name.as_str())
}

/// How a bench file names the table.
pub(super) fn how_to_use(planned: &Substitution, out: &Path) -> String {
    let vswr =
        planned.vswr.map_or_else(String::new, |vswr| format!(", vswr: {:.2}", (vswr * 100.0).ceil() / 100.0));
    let instead = if planned.stretch.whole { "all parts of this path" } else { "these parts" };
    format!(
        "{} written; in the bench file instead of {instead}:\n  - {{ loss: {}{vswr}, name: {} }}   # and `rated`, as the \
         first of them has it",
        out.display(),
        out.display(),
        planned
            .stretch
            .names
            .first()
            .filter(|_| planned.stretch.names.len() == 1)
            .map_or("path", String::as_str)
    )
}

/// The measurement for programs, with the units in the keys.
pub(super) fn json(
    planned: &Substitution,
    measured: &MeasuredPath,
    written: Option<(&MeasuredTable, &Path)>,
) -> Value {
    let point = |loss: &MeasuredLoss| {
        json!({
            "frequency_hz": loss.frequency,
            "needed": loss.needed,
            "loss_db": loss.loss,
            "expanded_uncertainty_db": loss.expanded,
            "repeats_db": loss.repeats,
            "spread_db": loss.spread,
            "drift_db": loss.drift,
            "budget": loss.budget,
        })
    };
    let (outcome, reason) = match &measured.outcome {
        PathOutcome::Sound => ("sound", None),
        PathOutcome::Invalid(why) => ("invalid", Some(why)),
    };
    let calibration = written.map(|(table, _)| &table.calibration);
    json!({
        "path": planned.stretch.name,
        "parts": planned.stretch.names,
        "whole": planned.stretch.whole,
        "with": planned.with.name(),
        "outcome": outcome,
        "reason": reason,
        "at": measured.at.to_string(),
        "calibrated": calibration.and_then(|c| c.calibrated).map(|day| day.to_string()),
        "due": calibration.and_then(|c| c.due).map(|day| day.to_string()),
        "file": written.map(|(_, file)| file.display().to_string()),
        "instruments": measured.instruments.iter().map(|used| json!({
            "role": used.role.name(),
            "maker": used.identity.maker,
            "model": used.identity.model,
            "serial": used.identity.serial,
            "firmware": used.identity.firmware,
        })).collect::<Vec<_>>(),
        "drift_db": measured.drift,
        "largest_drift_db": measured.largest_drift,
        "left_out": measured.left_out,
        "notes": planned.notes,
        "losses": measured.losses.iter().map(point).collect::<Vec<_>>(),
    })
}
