//! Whoever looks on while a radio is measured, with what the day itself hears of it: for how long the radio was keyed, and
//! the name of its run, which is in the log before anybody is told to key.

use std::cell::Cell;
use std::future::Future;
use std::pin::Pin;
use std::rc::Rc;

use jiff::Timestamp;
use spurline_clock::{Pace, present};
use spurline_record::{DayEntry, DayEvent, Event, EventKind, Quantity, RunId};
use spurline_runner::Company;
use spurline_sequencer::{Listener, Operator};
use spurline_store::DayLog;
use spurline_units::Dbm;

use crate::desk::{DeskError, Front};

/// What was heard of a radio's key-downs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Heard {
    /// For how long it was seen to be keyed, in seconds: where the key never came up, until the last that was heard.
    pub(crate) held: f64,
    /// The strongest carrier that was read.
    pub(crate) strongest: Option<Dbm>,
}

/// Whoever looks on, with what was heard of the radio's key-downs.
pub(crate) struct Hearing<'f> {
    front: &'f mut dyn Front,
    heard: Rc<Cell<Heard>>,
}

impl<'f> Hearing<'f> {
    pub(crate) fn new(front: &'f mut dyn Front) -> Self {
        Self { front, heard: Rc::default() }
    }

    /// What was heard so far.
    pub(crate) fn heard(&self) -> Heard {
        self.heard.get()
    }
}

impl Company for Hearing<'_> {
    fn say(&mut self, text: &str) {
        self.front.say(text);
    }

    fn named(&mut self, id: &RunId) {
        self.front.named(id);
    }

    fn listener(&mut self, readings: usize, pace: Pace) -> Box<dyn Listener> {
        Box::new(Counting {
            listener: self.front.listener(readings, pace),
            closed: self.heard.get().held,
            down: None,
            heard: self.heard.clone(),
        })
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        self.front.operator()
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        self.front.stop()
    }
}

struct Counting {
    listener: Box<dyn Listener>,
    /// The key-downs that have ended, in seconds.
    closed: f64,
    /// When the one began that has not.
    down: Option<Timestamp>,
    heard: Rc<Cell<Heard>>,
}

impl Listener for Counting {
    fn hear(&mut self, event: &Event) {
        let mut strongest = self.heard.get().strongest;
        match &event.kind {
            EventKind::KeyDown { .. } => self.down = Some(event.at),
            EventKind::KeyUp { held } => {
                self.closed += held.get();
                self.down = None;
            }
            EventKind::ReadingFinished(reading) if reading.quantity == Quantity::CarrierPower => {
                let level = reading.level().into_iter().chain(strongest);
                strongest = level.max_by(|one, other| one.get().total_cmp(&other.get()));
            }
            _ => {}
        }
        let open = self.down.map_or(0.0, |since| event.at.duration_since(since).as_secs_f64().max(0.0));
        self.heard.set(Heard { held: self.closed + open, strongest });
        self.listener.hear(event);
    }
}

/// The same with the name of the run written into the log as soon as it has one.
pub(crate) struct Noting<'f> {
    hearing: Hearing<'f>,
    log: &'f DayLog,
    name: &'f str,
    visit: u32,
    noted: Result<Option<DayEntry>, DeskError>,
}

impl<'f> Noting<'f> {
    pub(crate) fn new(hearing: Hearing<'f>, log: &'f DayLog, name: &'f str, visit: u32) -> Self {
        Self { hearing, log, name, visit, noted: Ok(None) }
    }

    /// The entry, if there is one, and what was heard of the radio's key-downs.
    pub(crate) fn end(self) -> (Result<Option<DayEntry>, DeskError>, Heard) {
        (self.noted, self.hearing.heard())
    }
}

impl Company for Noting<'_> {
    fn say(&mut self, text: &str) {
        // They were told when the day began: said before every radio nobody would read them any more.
        if text != spurline_runner::cautions() {
            self.hearing.say(text);
        }
    }

    fn named(&mut self, id: &RunId) {
        let event = DayEvent::Measuring { visit: self.visit, run: id.clone() };
        let kept = self.log.append(self.name, present().1, event);
        self.noted = kept.map(Some).map_err(DeskError::from);
        self.hearing.named(id);
    }

    fn listener(&mut self, readings: usize, pace: Pace) -> Box<dyn Listener> {
        self.hearing.listener(readings, pace)
    }

    fn operator(&mut self) -> Box<dyn Operator> {
        self.hearing.operator()
    }

    fn stop(&mut self) -> Pin<Box<dyn Future<Output = ()>>> {
        if self.noted.is_err() {
            // What cannot be kept is not measured: key up at once.
            return Box::pin(std::future::ready(()));
        }
        self.hearing.stop()
    }
}

#[cfg(test)]
mod tests {
    use spurline_units::Seconds;

    use super::*;
    use crate::specimen::Onlooker;

    /// A key that never came up was down at least until the last that was heard of it.
    #[test]
    fn a_key_down_without_an_end_counts_as_long_as_something_was_heard() {
        let mut onlooker = Onlooker::default();
        let mut hearing = Hearing::new(&mut onlooker);
        let mut listener = hearing.listener(0, Pace::Real);
        let mut hear = |second: i64, kind| {
            let at = Timestamp::from_second(second).unwrap();
            listener.hear(&Event { sequence: 1, at, kind });
        };
        hear(0, EventKind::KeyDown { lease: Seconds::new(10.0) });
        hear(3, EventKind::KeyUp { held: Seconds::new(2.5) });
        assert_eq!(hearing.heard().held, 2.5);
        hear(20, EventKind::KeyDown { lease: Seconds::new(10.0) });
        hear(27, EventKind::Prompt("LET GO NOW".to_owned()));
        assert_eq!(hearing.heard().held, 9.5);
    }
}
