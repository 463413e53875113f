//! How long and how often the unit was keyed.

use jiff::{SignedDuration, Timestamp};
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

/// Every time that the unit was keyed. One whose end is not recorded is listed too; one that was refused is not.
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
                if *held == Seconds::default() {
                    downs.pop();
                } else if let Some(down) = downs.last_mut() {
                    down.held = Some(*held);
                    // It was recorded before the key was told: what came between is no time that it was down.
                    let span = SignedDuration::try_from(held.duration()).unwrap_or_default();
                    down.at = event.at.saturating_sub(span).map_or(down.at, |began| began.max(down.at));
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
    /// The most in any 5 minutes, all key-downs together.
    pub(crate) most_in_5_min: Seconds,
    /// The shortest time between the end of one and the beginning of the next; `None` of fewer than two.
    pub(crate) least_rest: Option<Seconds>,
}

impl Total {
    /// The same in words; empty if nothing was keyed.
    pub(crate) fn words(&self) -> String {
        if self.times == 0 {
            return String::new();
        }
        let times = if self.times == 1 { "once".to_owned() } else { format!("{} times", self.times) };
        let mut text = format!(
            "{times}, {:.2} s in total, {:.2} s at the longest, {:.1} s in the worst 5 min",
            self.held.get(),
            self.longest.get(),
            self.most_in_5_min.get()
        );
        if let Some(rest) = self.least_rest {
            text.push_str(&format!(", {:.1} s of rest at the least", rest.get()));
        }
        if self.open > 0 {
            text.push_str(&format!("; of {} no key up is recorded", self.open));
        }
        text
    }
}

/// How long and how often a run keyed its unit, in words; empty if it never did.
#[must_use]
pub fn keyed(events: &[Event]) -> String {
    total(&downs(events)).words()
}

/// Adds the key-downs up.
pub(crate) fn total(downs: &[KeyDown<'_>]) -> Total {
    let ended = downs.iter().filter_map(|down| down.held);
    let start = downs.first().map(|down| down.at).unwrap_or_default();
    let spans: Vec<(f64, f64)> = downs
        .iter()
        .filter_map(|down| {
            let begins = down.at.duration_since(start).as_secs_f64();
            Some((begins, begins + down.held?.get()))
        })
        .collect();
    Total {
        times: downs.len(),
        held: ended.clone().fold(Seconds::default(), |sum, held| sum + held),
        longest: ended.fold(Seconds::default(), Seconds::max),
        open: downs.iter().filter(|down| down.held.is_none()).count(),
        most_in_5_min: most_in(WINDOW, &spans),
        least_rest: spans
            .windows(2)
            .map(|pair| Seconds::new(pair[1].0 - pair[0].1))
            // Dates that were set back, as between the legs of a run in virtual time, tell of no rest.
            .filter(|rest| *rest >= Seconds::default())
            .reduce(Seconds::min),
    }
}

/// The time in which a unit is keyed only for so long.
const WINDOW: f64 = 300.0;

/// The most of these spans that any window holds: the fullest one ends with a span, or begins with one.
fn most_in(window: f64, spans: &[(f64, f64)]) -> Seconds {
    let within = |from: f64, to: f64| -> f64 {
        spans.iter().map(|(begin, end)| (end.min(to) - begin.max(from)).max(0.0)).sum()
    };
    let ending = spans.iter().map(|(_, end)| within(end - window, *end));
    let beginning = spans.iter().map(|(begin, _)| within(*begin, begin + window));
    Seconds::new(ending.chain(beginning).fold(0.0, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(seconds: f64) -> Seconds {
        Seconds::new(seconds)
    }

    fn events(kinds: Vec<EventKind>) -> Vec<Event> {
        let at = |second| Timestamp::new(1_795_602_612 + second, 0).unwrap();
        (1u64..).zip(kinds).map(|(n, kind)| Event { sequence: n, at: at(n as i64), kind }).collect()
    }

    #[test]
    fn one_that_was_refused_is_none() {
        let refused = [EventKind::KeyDown { lease: s(10.0) }, EventKind::KeyUp { held: s(0.0) }];
        assert_eq!(keyed(&events(refused.to_vec())), "");
    }

    /// A run that went on in virtual time begins its second leg at an earlier date than its first one ended.
    #[test]
    fn a_date_that_went_back_tells_of_no_rest() {
        let start = Timestamp::new(1_795_602_612, 0).unwrap();
        let down = |second: i64| KeyDown {
            at: Timestamp::new(start.as_second() + second, 0).unwrap(),
            lease: s(10.0),
            held: Some(s(5.0)),
            scope: None,
        };
        assert_eq!(total(&[down(0), down(60), down(20), down(90)]).least_rest, Some(s(55.0)));
    }

    /// By hand, from 0 s: 20 s, then 20 s at 100 s, 10 s at 290 s and 30 s at 400 s. The 300 s that end with the last hold
    /// 10 s and 30 s; those that begin with the first hold 20 s, 20 s and 10 s.
    #[test]
    fn the_worst_five_minutes_and_the_least_rest_are_found() {
        let mut events = Vec::new();
        for (begins, held) in [(0_i64, 20.0), (100, 20.0), (290, 10.0), (400, 30.0)] {
            let kinds = [
                EventKind::KeyDown { lease: Seconds::new(30.0) },
                EventKind::KeyUp { held: Seconds::new(held) },
            ];
            for kind in kinds {
                let at = Timestamp::new(1_795_602_612 + begins, 0).unwrap();
                events.push(Event { sequence: events.len() as u64 + 1, at, kind });
            }
        }
        let total = total(&downs(&events));
        assert_eq!((total.most_in_5_min.get(), total.least_rest), (50.0, Some(Seconds::new(80.0))));
        assert_eq!(
            keyed(&events),
            "4 times, 80.00 s in total, 30.00 s at the longest, 50.0 s in the worst 5 min, 80.0 s of rest at the least"
        );
        assert_eq!(keyed(&[]), "");
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
