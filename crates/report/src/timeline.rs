//! What happened in a run, in words, and how long the unit was keyed.

use jiff::Timestamp;
use spurline_record::{Event, EventKind, Fault, Outcome};

use crate::figures;

/// One line of what happened.
pub(crate) struct Happened {
    pub(crate) at: String,
    pub(crate) what: String,
}

/// One time that the unit was keyed.
pub(crate) struct KeyDown {
    pub(crate) at: String,
    pub(crate) lease: String,
    /// How long it was down, or that nothing says so.
    pub(crate) held: String,
}

/// The time of day in UTC, to a tenth of a second.
pub(crate) fn time(at: Timestamp) -> String {
    format!("{}.{}", at.strftime("%H:%M:%S"), at.subsec_nanosecond().abs() / 100_000_000)
}

/// Every event as a line.
pub(crate) fn lines(events: &[Event]) -> Vec<Happened> {
    events.iter().map(|event| Happened { at: time(event.at), what: words(&event.kind) }).collect()
}

/// Every time that the unit was keyed. A key whose end is not recorded is listed too.
pub(crate) fn key_downs(events: &[Event]) -> Vec<KeyDown> {
    let mut downs: Vec<KeyDown> = Vec::new();
    let mut open = false;
    for event in events {
        match &event.kind {
            EventKind::KeyDown { lease } => {
                downs.push(KeyDown {
                    at: time(event.at),
                    lease: lease.to_string(),
                    held: "no key up recorded".to_owned(),
                });
                open = true;
            }
            EventKind::KeyUp { held } if open => {
                if let Some(down) = downs.last_mut() {
                    down.held = format!("{:.2} s", held.get());
                }
                open = false;
            }
            _ => {}
        }
    }
    downs
}

/// Everything that failed.
pub(crate) fn faults(events: &[Event]) -> Vec<&Fault> {
    events
        .iter()
        .filter_map(|event| if let EventKind::Failed(fault) = &event.kind { Some(fault) } else { None })
        .collect()
}

/// The notes that came while the run went on.
pub(crate) fn notes(events: &[Event]) -> Vec<&str> {
    events
        .iter()
        .filter_map(|event| if let EventKind::Note(note) = &event.kind { Some(note.as_str()) } else { None })
        .collect()
}

fn words(kind: &EventKind) -> String {
    match kind {
        EventKind::RunStarted(_) => "run started".to_owned(),
        EventKind::InstrumentFound(used) => {
            let identity = &used.identity;
            format!("{} found: {} {}, serial {}", used.role, identity.maker, identity.model, identity.serial)
        }
        EventKind::ScopeStarted { scope, readings } => {
            format!("{}, {}: {readings} readings due", scope.channel, scope.power_setting)
        }
        EventKind::Doing(what) => what.clone(),
        EventKind::KeyDown { lease } => format!("key down, for {lease} at most"),
        EventKind::KeyUp { held } => format!("key up after {:.2} s", held.get()),
        EventKind::ReadingFinished(reading) => {
            let figure = figures::figure(reading.figure.as_ref());
            format!("{} at {}: {figure}, {}", figures::title(reading), reading.frequency, reading.outcome)
        }
        EventKind::Note(note) => format!("note: {note}"),
        EventKind::Failed(fault) => format!("failed: {}", fault.message),
        EventKind::RunEnded { state, outcome } => {
            format!("run ended: {}, {}", state.word(), outcome.map_or("no readings", Outcome::word))
        }
    }
}

#[cfg(test)]
mod tests {
    use spurline_units::Seconds;

    use super::*;

    fn events(kinds: Vec<EventKind>) -> Vec<Event> {
        let at = |second| Timestamp::new(1_795_602_612 + second, 987_000_000).unwrap();
        (1u64..).zip(kinds).map(|(n, kind)| Event { sequence: n, at: at(n as i64), kind }).collect()
    }

    #[test]
    fn a_key_that_never_came_up_is_shown() {
        let down = || EventKind::KeyDown { lease: Seconds::new(20.0) };
        let up = |held| EventKind::KeyUp { held: Seconds::new(held) };
        let listed = key_downs(&events(vec![down(), up(4.25), down(), down(), up(1.0), up(9.0)]));
        let held: Vec<_> = listed.iter().map(|down| down.held.as_str()).collect();
        assert_eq!(held, ["4.25 s", "no key up recorded", "1.00 s"]);
        assert_eq!(listed[0].at, "10:30:13.9");
        assert_eq!(listed[0].lease, "20 s");
    }
}
