//! One dispatcher puts everything that happens into one order.

use std::error::Error;

use spurline_clock::Clock;
use spurline_record::{Event, EventKind};

/// Keeps events; an event that it refuses stops the run.
pub trait Recorder {
    /// Keeps one event for good before it returns.
    ///
    /// # Errors
    ///
    /// If the event is not safely kept.
    fn keep(&mut self, event: &Event) -> Result<(), Box<dyn Error + Send + Sync>>;
}

/// Shows events; nothing it does can stop the run.
pub trait Listener {
    /// Takes note of one event.
    fn hear(&mut self, event: &Event);
}

/// Numbers and stamps events, has them kept, then shows them.
pub struct Dispatcher<'a> {
    clock: Clock,
    sequence: u64,
    recorder: &'a mut dyn Recorder,
    listener: &'a mut dyn Listener,
}

impl<'a> Dispatcher<'a> {
    /// A dispatcher for one run.
    pub fn new(clock: Clock, recorder: &'a mut dyn Recorder, listener: &'a mut dyn Listener) -> Self {
        Self { clock, sequence: 0, recorder, listener }
    }

    /// Has one thing that happened kept and shown.
    ///
    /// # Errors
    ///
    /// If it is not safely kept.
    pub fn emit(&mut self, kind: EventKind) -> Result<(), Box<dyn Error + Send + Sync>> {
        self.sequence += 1;
        let event = Event { sequence: self.sequence, at: self.clock.timestamp(), kind };
        self.recorder.keep(&event)?;
        self.listener.hear(&event);
        Ok(())
    }
}
