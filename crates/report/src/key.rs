//! How long and how often the unit was keyed.

use jiff::Timestamp;
use spurline_record::{Event, EventKind, Scope};
use spurline_units::Seconds;

/// One time that the unit was keyed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct KeyDown<'a> {
    pub(crate) at: Timestamp,
    /// The longest that it might have lasted.
    pub(crate) lease: Seconds,
    /// How long it lasted; `None` if nothing says so.
    pub(crate) held: Option<Seconds>,
    /// What was being measured.
    pub(crate) scope: Option<&'a Scope>,
}

/// Every time that the unit was keyed. One whose end is not recorded is listed too.
pub(crate) fn downs(events: &[Event]) -> Vec<KeyDown<'_>> {
    let mut downs: Vec<KeyDown<'_>> = Vec::new();
    let mut scope = None;
    let mut open = false;
    for event in events {
        match &event.kind {
            EventKind::ScopeStarted { scope: begun, .. } => scope = Some(begun),
            EventKind::KeyDown { lease } => {
                downs.push(KeyDown { at: event.at, lease: *lease, held: None, scope });
                open = true;
            }
            EventKind::KeyUp { held } if open => {
                if let Some(down) = downs.last_mut() {
                    down.held = Some(*held);
                }
                open = false;
            }
            _ => {}
        }
    }
    downs
}

/// What all key-downs come to; those whose end is not recorded cannot count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Total {
    pub(crate) times: usize,
    pub(crate) held: Seconds,
    pub(crate) longest: Seconds,
    /// How many have no recorded end.
    pub(crate) open: usize,
}

/// Adds the key-downs up.
pub(crate) fn total(downs: &[KeyDown<'_>]) -> Total {
    let ended = downs.iter().filter_map(|down| down.held);
    Total {
        times: downs.len(),
        held: ended.clone().fold(Seconds::default(), |sum, held| sum + held),
        longest: ended.fold(Seconds::default(), Seconds::max),
        open: downs.iter().filter(|down| down.held.is_none()).count(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn events(kinds: Vec<EventKind>) -> Vec<Event> {
        let at = |second| Timestamp::new(1_795_602_612 + second, 0).unwrap();
        (1u64..).zip(kinds).map(|(n, kind)| Event { sequence: n, at: at(n as i64), kind }).collect()
    }

    #[test]
    fn a_key_that_never_came_up_is_listed_and_not_added() {
        let down = || EventKind::KeyDown { lease: Seconds::new(20.0) };
        let up = |held| EventKind::KeyUp { held: Seconds::new(held) };
        let events = events(vec![down(), up(4.25), down(), down(), up(1.0), up(9.0)]);
        let listed = downs(&events);
        let held: Vec<_> = listed.iter().map(|down| down.held.map(Seconds::get)).collect();
        assert_eq!(held, [Some(4.25), None, Some(1.0)]);
        let total = total(&listed);
        assert_eq!((total.times, total.open), (3, 1));
        assert_eq!((total.held.get(), total.longest.get()), (5.25, 4.25));
    }
}
