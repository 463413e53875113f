//! What held before the unit was keyed.

use serde_json::{Value, json};
use spurline_record::{Event, EventKind, Interlock};

/// Every interlock as it was told last.
pub(crate) fn last(events: &[Event]) -> Vec<&Interlock> {
    let mut found: Vec<&Interlock> = Vec::new();
    for event in events {
        let EventKind::Interlocks(told) = &event.kind else { continue };
        for interlock in told {
            match found.iter_mut().find(|known| known.name == interlock.name) {
                Some(known) => *known = interlock,
                None => found.push(interlock),
            }
        }
    }
    found.sort_by_key(|interlock| interlock.name);
    found
}

/// The same for programs.
pub(crate) fn json(events: &[Event]) -> Vec<Value> {
    let one = |interlock: &Interlock| {
        json!({
            "name": interlock.name,
            "holds": interlock.holds,
            "why": interlock.why,
            "set_aside": interlock.set_aside,
        })
    };
    last(events).into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use spurline_record::InterlockName::{Armed, Store};

    use super::*;

    #[test]
    fn what_was_told_last_counts() {
        let told = [
            vec![Interlock::holds(Store, "room"), Interlock::holds(Armed, "--arm")],
            vec![Interlock::trips(Store, "no room")],
        ];
        let event = |(sequence, told): (u64, Vec<Interlock>)| Event {
            sequence,
            at: jiff::Timestamp::UNIX_EPOCH,
            kind: EventKind::Interlocks(told),
        };
        let events: Vec<Event> = (1..).zip(told).map(event).collect();
        let last: Vec<_> = last(&events).into_iter().map(|one| (one.name, one.holds)).collect();
        assert_eq!(last, [(Armed, true), (Store, false)]);
        assert_eq!(json(&events)[1]["why"], "no room");
    }
}
