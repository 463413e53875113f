//! One dispatcher puts everything that happens into one order.

use std::error::Error;

use jiff::Timestamp;
use spurline_clock::Clock;
use spurline_record::{Event, EventKind};

/// Keeps events; what it refuses stops the run.
pub trait Recorder {
    /// Keeps events that belong together, all of them or none, for good before it returns.
    ///
    /// # Errors
    ///
    /// If they are not safely kept.
    fn keep(&mut self, events: &[Event]) -> Result<(), Box<dyn Error + Send + Sync>>;

    /// Whether it can keep more, in words that change only when that does.
    ///
    /// # Errors
    ///
    /// Why it cannot, with figures: nothing is keyed then.
    fn ready(&mut self) -> Result<String, String> {
        Ok("the last event was kept".to_owned())
    }
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

    /// The same for a run that has events already, up to the one of this number.
    #[must_use]
    pub fn after(self, sequence: u64) -> Self {
        Self { sequence, ..self }
    }

    /// Whether more can be kept.
    ///
    /// # Errors
    ///
    /// Why not.
    pub(crate) fn ready(&mut self) -> Result<String, String> {
        self.recorder.ready()
    }

    /// Has one thing that happened kept and shown.
    ///
    /// # Errors
    ///
    /// If it is not safely kept.
    pub fn emit(&mut self, kind: EventKind) -> Result<(), Box<dyn Error + Send + Sync>> {
        self.emit_all(vec![kind])
    }

    /// Has what happened before this run began kept with its own time. It was shown when it happened.
    ///
    /// # Errors
    ///
    /// If it is not safely kept.
    pub(crate) fn keep_earlier(
        &mut self,
        happened: Vec<(Timestamp, EventKind)>,
    ) -> Result<(), Box<dyn Error + Send + Sync>> {
        let numbered = (self.sequence + 1..).zip(happened);
        let events: Vec<Event> =
            numbered.map(|(sequence, (at, kind))| Event { sequence, at, kind }).collect();
        self.recorder.keep(&events)?;
        self.sequence += events.len() as u64;
        Ok(())
    }

    /// Has several things that belong together kept, all of them or none, and then shown; what a person must hear of, in any
    /// case.
    ///
    /// # Errors
    ///
    /// If they are not safely kept.
    pub fn emit_all(&mut self, kinds: Vec<EventKind>) -> Result<(), Box<dyn Error + Send + Sync>> {
        let at = self.clock.timestamp();
        let numbered = (self.sequence + 1..).zip(kinds);
        let events: Vec<Event> = numbered.map(|(sequence, kind)| Event { sequence, at, kind }).collect();
        let kept = self.recorder.keep(&events);
        if kept.is_ok() {
            self.sequence += events.len() as u64;
        }
        let is_shown = |event: &&Event| kept.is_ok() || must_be_heard(&event.kind);
        events.iter().filter(is_shown).for_each(|event| self.listener.hear(event));
        kept
    }
}

/// What is shown whether or not it could be kept: nobody is left in doubt whether to key, and whether the key is up.
fn must_be_heard(kind: &EventKind) -> bool {
    matches!(kind, EventKind::Prompt(_) | EventKind::KeyUp { .. })
}
