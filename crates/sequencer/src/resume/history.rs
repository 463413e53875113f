//! When a run had keyed the unit before it broke off, so that what it may be keyed holds over all its legs.

use jiff::{SignedDuration, Timestamp};
use spurline_plan::{GLIMPSE_LONGEST, Heating, Job, Key, Keying};
use spurline_record::{Event, EventKind};
use spurline_units::Seconds;

/// A key-down of an earlier leg, by the machine's date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyedSpan {
    /// When the key went down.
    pub from: Timestamp,
    /// When it came up; the end of its lease, where nothing says that it did.
    pub to: Timestamp,
    /// Whether it was a glimpse.
    pub glimpse: bool,
}

/// The key-downs that events, in order, tell of.
pub(super) fn spans(events: &[Event]) -> Vec<KeyedSpan> {
    let mut spans: Vec<KeyedSpan> = Vec::new();
    let mut open = false;
    for event in events {
        match &event.kind {
            EventKind::KeyDown { lease } => {
                let to = later(event.at, *lease);
                let glimpse = *lease <= GLIMPSE_LONGEST;
                spans.push(KeyedSpan { from: event.at, to, glimpse });
                open = true;
            }
            EventKind::KeyUp { held } => {
                if open && *held == Seconds::default() {
                    // It was refused.
                    spans.pop();
                } else if let Some(last) = spans.last_mut().filter(|_| open) {
                    // A date that was set meanwhile does not make it shorter than it was.
                    last.to = event.at.max(later(last.from, *held));
                }
                open = false;
            }
            // What broke off with the key down came up by itself: nobody knows when.
            EventKind::Resumed(_) => open = false,
            _ => {}
        }
    }
    spans
}

fn later(at: Timestamp, by: Seconds) -> Timestamp {
    let by = SignedDuration::try_from(by.duration()).unwrap_or(SignedDuration::MAX);
    at.saturating_add(by).unwrap_or(Timestamp::MAX)
}

/// What earlier legs asked of the unit and of the parts of the path, and what the time now is since the first of their
/// key-downs; `None` if they never keyed it.
///
/// What a key-down warmed is not in the record: each counts as one at the highest power of the plan. One that would end
/// only after `now`, as by a lease that was not used up, ends now.
pub(crate) fn keying(
    key: Key,
    spans: &[KeyedSpan],
    heating: &[Heating],
    now: Timestamp,
) -> Option<(Seconds, Keying)> {
    let first = spans.first()?.from;
    let since = |at: Timestamp| Seconds::new(at.duration_since(first).as_secs_f64().max(0.0));
    let mut keying = Keying::new(key);
    let mut ended = Seconds::default();
    for span in spans {
        // A date that was set back does not make key-downs overlap.
        let from = since(span.from).max(ended);
        let to = from + Seconds::new(span.to.duration_since(span.from).as_secs_f64().max(0.0));
        match span.glimpse {
            true => keying.glimpsed(from, to, heating),
            false => keying.keyed(from, to, heating),
        }
        ended = to;
    }
    Some((since(now).max(ended), keying))
}

/// The most that each part of the path warms in any state of the plan.
pub(crate) fn hottest(job: &Job) -> Vec<Heating> {
    let mut hottest: Vec<Heating> = Vec::new();
    for state in job.states() {
        for way in [job.carrier_way(), job.harmonics_way()] {
            // A path that does not cover a carrier of the plan has been refused.
            let heating =
                job.heating(way, state.channel.carrier, job.most_of(state.power)).unwrap_or_default();
            for heating in heating {
                match hottest.iter_mut().find(|known| known.part == heating.part) {
                    Some(known) => known.share = known.share.max(heating.share),
                    None => hottest.push(heating),
                }
            }
        }
    }
    hottest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(seconds: f64) -> Seconds {
        Seconds::new(seconds)
    }

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    const KEY: Key = Key {
        longest: s_of(20.0),
        rest: s_of(60.0),
        most_in_5_min: s_of(60.0),
        own_timer: None,
        comes_within: s_of(60.0),
        span: None,
    };

    const fn s_of(seconds: f64) -> Seconds {
        Seconds::new(seconds)
    }

    fn event(second: i64, kind: EventKind) -> Event {
        Event { sequence: 1, at: at(second), kind }
    }

    fn down(second: i64) -> Event {
        event(second, EventKind::KeyDown { lease: s(20.0) })
    }

    fn up(second: i64, held: f64) -> Event {
        event(second, EventKind::KeyUp { held: s(held) })
    }

    /// By hand: 20 s until 20, 20 s until 120, and one that died while down, which counts until 220: the window that ends
    /// with a fourth of 20 s may hold none of the first, which leaves it at 320 s less 20 s.
    #[test]
    fn what_was_keyed_before_leaves_less_for_what_comes() {
        let events = [down(0), up(20, 20.0), down(100), up(120, 20.0), down(200)];
        let spans = spans(&events);
        assert_eq!(spans[2], KeyedSpan { from: at(200), to: at(220), glimpse: false });
        let (now, keying) = keying(KEY, &spans, &[], at(290)).unwrap();
        assert_eq!((now, keying.wait(now, &[]).unwrap()), (s(290.0), s(10.0)));
        // Only the rest counts of what lies long back.
        let (now, keying) = super::keying(KEY, &spans[..1], &[], at(50)).unwrap();
        assert_eq!(keying.wait(now, &[]).unwrap(), s(30.0));
    }

    #[test]
    fn a_lease_that_was_not_used_up_and_a_date_that_was_set_back_are_taken_for_the_worst() {
        let spans = spans(&[down(100), up(101, 20.0), down(110)]);
        assert_eq!(spans[0].to, at(120), "it was held for 20 s, whatever the dates say");
        let (now, keying) = keying(KEY, &spans, &[], at(0)).unwrap();
        assert_eq!(
            now,
            s(40.0),
            "the second begins when the first has ended, and its whole lease has passed"
        );
        assert_eq!(keying.wait(now, &[]).unwrap(), s(60.0));
    }

    #[test]
    fn parts_that_were_warm_are() {
        let pad = [Heating { part: "pad".to_owned(), share: 4.0, time_constant: s(180.0) }];
        let (now, keying) = keying(KEY, &spans(&[down(0), up(20, 20.0)]), &pad, at(20)).unwrap();
        let warm = keying.warmest().unwrap().rise;
        // 4 (1 - exp(-20 / 180)) by the exponential of Python 3.11: 0.420643.
        assert!((warm - 0.420_643).abs() < 1e-6, "{warm}");
        assert!(keying.wait(now, &pad).unwrap() > s(60.0));
    }
}
