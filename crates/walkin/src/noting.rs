//! Whoever looks on while a radio is measured, with what the day itself hears of it: for how long the radio was keyed, and
//! the name of its run, which is in the log before anybody is told to key.

use std::cell::Cell;
use std::future::Future;
use std::pin::Pin;
use std::rc::Rc;

use spurline_clock::{Pace, present};
use spurline_record::{DayEntry, DayEvent, Event, EventKind, RunId};
use spurline_runner::Company;
use spurline_sequencer::{Listener, Operator};
use spurline_store::DayLog;

use crate::desk::{DeskError, Front};

/// Whoever looks on, with the time counted for which the radio was seen to be keyed.
pub(crate) struct Hearing<'f> {
    front: &'f mut dyn Front,
    held: Rc<Cell<f64>>,
}

impl<'f> Hearing<'f> {
    pub(crate) fn new(front: &'f mut dyn Front) -> Self {
        Self { front, held: Rc::default() }
    }

    /// For how long the radio was seen to be keyed, in seconds.
    pub(crate) fn held(&self) -> f64 {
        self.held.get()
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
        Box::new(Counting { listener: self.front.listener(readings, pace), held: self.held.clone() })
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
    held: Rc<Cell<f64>>,
}

impl Listener for Counting {
    fn hear(&mut self, event: &Event) {
        if let EventKind::KeyUp { held } = event.kind {
            self.held.set(self.held.get() + held.get());
        }
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

    /// The entry, if there is one, and for how long the radio was seen to be keyed.
    pub(crate) fn end(self) -> (Result<Option<DayEntry>, DeskError>, f64) {
        (self.noted, self.hearing.held())
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
