//! What a person sees while a run goes on: one line per reading, key-downs unmistakable.

use spurline_record::{Event, EventKind, Quantity};
use spurline_sequencer::Listener;

use crate::table::what;
use crate::talk::say;

/// Plain lines on standard error.
#[derive(Debug, Default)]
pub(crate) struct Lines;

impl Listener for Lines {
    fn hear(&mut self, event: &Event) {
        match &event.kind {
            EventKind::RunStarted(header) => {
                say(&format!("run {} on {}, serial {}", header.id, header.unit.model, header.unit.serial));
                for note in &header.notes {
                    say(&format!("note: {note}"));
                }
            }
            EventKind::ScopeStarted { scope, .. } => {
                say(&format!("{}, {}, {}", scope.channel, scope.carrier, scope.power_setting));
            }
            EventKind::KeyDown { lease } => say(&format!("  KEY DOWN for at most {lease}")),
            EventKind::KeyUp { held } => say(&format!("  key up after {held:.1}")),
            EventKind::ReadingFinished(reading) => {
                let level =
                    reading.figure.as_ref().map_or_else(String::new, |figure| match reading.quantity {
                        Quantity::CarrierPower => format!("{:.3} W", figure.value),
                        Quantity::Harmonic => {
                            format!("{}{:.1} dBm", if figure.bound { "<= " } else { "" }, figure.value)
                        }
                    });
                let reason =
                    reading.reason.as_ref().map_or_else(String::new, |reason| format!(": {}", reason.text));
                let line = format!("  {:<9} {level:>14}  {}{reason}", what(reading), reading.outcome);
                say(line.trim_end());
            }
            EventKind::Note(text) => say(&format!("note: {text}")),
            EventKind::InstrumentFound(_)
            | EventKind::Doing(_)
            | EventKind::Failed(_)
            | EventKind::RunEnded { .. } => {}
        }
    }
}

/// Says nothing.
#[derive(Debug, Default)]
pub(crate) struct Quiet;

impl Listener for Quiet {
    fn hear(&mut self, _: &Event) {}
}
