//! The unit's key as the world has it, and who is told of its changes.

use std::fmt;

use spurline_clock::Moment;
use spurline_units::Seconds;
use tokio::sync::watch;

use super::{State, World, close};

/// The key changed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KeyChange {
    /// When.
    pub(crate) at: Moment,
    /// Whether it is down now.
    pub(crate) down: bool,
    /// What did it.
    pub(crate) why: &'static str,
}

type Tell = Box<dyn FnMut(KeyChange) + Send>;

/// Who is told, and what was told last.
pub(super) struct Teller {
    tell: Option<Tell>,
    down: bool,
    opens: watch::Sender<Option<Moment>>,
}

impl Default for Teller {
    fn default() -> Self {
        Self { tell: None, down: false, opens: watch::channel(None).0 }
    }
}

impl fmt::Debug for Teller {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Teller").field("down", &self.down).finish_non_exhaustive()
    }
}

impl State {
    fn tell_key(&mut self, now: Moment, why: &'static str) {
        let down = *self.key.at(now);
        if down != self.teller.down {
            self.teller.down = down;
            let at = self.key.since(now).unwrap_or(now);
            if let Some(tell) = &mut self.teller.tell {
                tell(KeyChange { at, down, why });
            }
        }
        let opens = if down { self.key.from(Some(now)).find(|at| *at > now) } else { None };
        self.teller.opens.send_replace(opens);
    }
}

impl World {
    /// Closes or opens the contact on the key line; closed, it opens by itself after `opens_after`.
    pub(crate) fn set_key(&self, now: Moment, closed: bool, opens_after: Option<Seconds>) {
        self.change(now, |state| close(&mut state.key, now, closed, opens_after));
        self.note_key(now, "the relay was told");
    }

    /// The control line that keys is asserted or dropped.
    pub(crate) fn key_line(&self, now: Moment, asserted: bool, why: &'static str) {
        self.change(now, |state| close(&mut state.key, now, asserted, None));
        self.note_key(now, why);
    }

    /// Whether the key is down.
    pub(crate) fn is_keyed(&self, now: Moment) -> bool {
        *self.state().key.at(now)
    }

    /// Has every change of the key told from now on.
    pub(crate) fn tell_key(&self, tell: Tell) {
        self.state().teller.tell = Some(tell);
    }

    /// Tells of a change, if there was one.
    pub(crate) fn note_key(&self, now: Moment, why: &'static str) {
        self.state().tell_key(now, why);
    }

    /// When the key comes up by itself, if it is to.
    pub(crate) fn key_opens(&self) -> watch::Receiver<Option<Moment>> {
        self.state().teller.opens.subscribe()
    }
}
