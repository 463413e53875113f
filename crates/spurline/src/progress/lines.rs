//! Events as lines.

use spurline_record::{Event, EventKind, Reading};
use spurline_sequencer::Listener;
use spurline_units::Seconds;

use crate::paint;
use crate::table;
use crate::talk::{say, wrapped};

/// Plain lines on standard error.
#[derive(Debug, Default)]
pub(super) struct Lines;

impl Listener for Lines {
    fn hear(&mut self, event: &Event) {
        if let Some(line) = line(&event.kind) {
            say(&line);
        }
    }
}

/// The line for what happened; `None` for what is no news to a person.
pub(super) fn line(kind: &EventKind) -> Option<String> {
    match kind {
        EventKind::RunStarted(header) => {
            let title = format!("run {} on {}, serial {}", header.id, header.unit.model, header.unit.serial);
            let notes = header.notes.iter().map(|note| wrapped(&format!("note: {note}"), 6));
            Some(std::iter::once(title).chain(notes).collect::<Vec<_>>().join("\n"))
        }
        EventKind::ScopeStarted { scope, .. } => Some(scope.in_short()),
        EventKind::KeyDown { lease } => {
            Some(format!("  {} for at most {lease}", paint::key_down("KEY DOWN")))
        }
        EventKind::KeyUp { held } if *held == Seconds::default() => {
            Some("  not keyed: the key was refused".to_owned())
        }
        EventKind::KeyUp { held } => Some(format!("  key up after {held:.1}")),
        EventKind::ReadingFinished(reading) => Some(finished(reading)),
        EventKind::Prompt(text) => Some(wrapped(&format!("  {}", paint::key_down(text)), 2)),
        EventKind::Note(text) => Some(wrapped(&format!("note: {text}"), 6)),
        EventKind::Resumed(resumption) => {
            let notes = resumption.notes.iter().map(|note| wrapped(&format!("note: {note}"), 6));
            Some(std::iter::once("the run goes on".to_owned()).chain(notes).collect::<Vec<_>>().join("\n"))
        }
        EventKind::InstrumentFound(_)
        | EventKind::Doing(_)
        | EventKind::Interlocks(_)
        | EventKind::PartFinished(_)
        | EventKind::Failed(_)
        | EventKind::RunEnded { .. } => None,
    }
}

fn finished(reading: &Reading) -> String {
    let outcome = paint::outcome(reading.outcome);
    let level = table::figure(reading, true);
    let text = format!("  {:>3} {:<9} {level:>13}  {outcome}", reading.ordinal, reading.short_title());
    match &reading.reason {
        Some(reason) => format!("{text}\n{}", wrapped(&format!("        {}", reason.text), 8)),
        None => text,
    }
}
