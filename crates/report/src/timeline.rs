//! What happened in a run, in words.

use jiff::Timestamp;
use spurline_record::{Event, EventKind, Fault, Interlock, Outcome, Resumption, RunState};
use spurline_units::Seconds;

use crate::paragraph::counted;
use crate::{figures, scope};

/// One line of what happened.
pub(crate) struct Happened {
    pub(crate) at: String,
    pub(crate) what: String,
}

/// The time of day in UTC, to a tenth of a second.
pub(crate) fn time(at: Timestamp) -> String {
    format!("{}.{}", at.strftime("%H:%M:%S"), at.subsec_nanosecond().abs() / 100_000_000)
}

/// Every event as a line.
pub(crate) fn lines(events: &[Event]) -> Vec<Happened> {
    events.iter().map(|event| Happened { at: time(event.at), what: words(&event.kind) }).collect()
}

/// Everything that failed.
pub(crate) fn faults(events: &[Event]) -> Vec<&Fault> {
    events
        .iter()
        .filter_map(|event| if let EventKind::Failed(fault) = &event.kind { Some(fault) } else { None })
        .collect()
}

/// What came up while the run went on that a reader should know.
#[must_use]
pub fn notes(events: &[Event]) -> Vec<String> {
    let noted = |event: &Event| match &event.kind {
        EventKind::Note(note) => Some(note.clone()),
        EventKind::Resumed(resumption) => {
            Some(format!("{} on {} UTC", resumed(resumption), event.at.strftime("%Y-%m-%d %H:%M:%S")))
        }
        _ => None,
    };
    events.iter().filter_map(noted).collect()
}

fn words(kind: &EventKind) -> String {
    match kind {
        EventKind::RunStarted(_) => "run started".to_owned(),
        EventKind::InstrumentFound(used) => {
            let identity = &used.identity;
            format!("{} found: {} {}, serial {}", used.role, identity.maker, identity.model, identity.serial)
        }
        EventKind::ScopeStarted { scope, readings } => {
            format!("{}: {} due", scope::name(scope), counted(*readings as usize, "reading"))
        }
        EventKind::Doing(what) => what.clone(),
        EventKind::Interlocks(told) => interlocks(told),
        EventKind::KeyDown { lease } => format!("key down, for {lease} at most"),
        EventKind::KeyUp { held } if *held == Seconds::default() => {
            "not keyed: the key was refused".to_owned()
        }
        EventKind::KeyUp { held } => format!("key up after {:.2} s", held.get()),
        EventKind::ReadingFinished(reading) => {
            let figure = figures::figure(reading.figure.as_ref());
            format!(
                "reading {}: {} at {}: {figure}, {}",
                reading.ordinal,
                reading.running_title(),
                reading.frequency,
                reading.outcome
            )
        }
        EventKind::PartFinished(_) => "these readings are kept".to_owned(),
        EventKind::Resumed(resumption) => resumed(resumption),
        EventKind::Prompt(text) => format!("said: {text}"),
        EventKind::Note(note) => format!("note: {note}"),
        EventKind::Failed(fault) => figures::fault(fault),
        EventKind::RunEnded { state, outcome } => {
            format!("run ended: {}, {}", state.word(), outcome.map_or("no readings", Outcome::word))
        }
    }
}

fn resumed(resumption: &Resumption) -> String {
    let stood = match resumption.stood {
        RunState::Running | RunState::BrokenOff => "its process had died",
        RunState::Failed => "it had failed",
        RunState::Interrupted => "it had been interrupted",
        RunState::Finished => "it had ended",
    };
    let mut text = format!("the run had broken off ({stood}) and went on by {}", resumption.software);
    if resumption.key_was_down {
        text.push_str("; the key was down when it broke off, and was made sure to be up");
    }
    if !resumption.set_aside.is_empty() {
        let count = resumption.set_aside.len();
        text.push_str(&format!(
            "; {} of work that was half done {} set aside: it was done anew",
            counted(count, "reading"),
            if count == 1 { "is" } else { "are" }
        ));
    }
    text
}

/// Which interlocks hold, by their names, and why the others do not.
fn interlocks(told: &[Interlock]) -> String {
    let holding: Vec<&str> =
        told.iter().filter(|interlock| interlock.holds).map(|interlock| interlock.name.word()).collect();
    let tripped = told.iter().filter(|interlock| !interlock.holds);
    let tripped = tripped.map(|interlock| format!("`{}` does not hold: {}", interlock.name, interlock.why));
    let holding = (!holding.is_empty()).then(|| format!("interlocks hold: {}", holding.join(", ")));
    holding.into_iter().chain(tripped).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_cut_and_not_rounded_up() {
        let at = Timestamp::new(1_795_602_613, 987_000_000).unwrap();
        assert_eq!(time(at), "10:30:13.9");
    }
}
