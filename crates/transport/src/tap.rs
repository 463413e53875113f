//! The transcript: every byte both ways, with time, link and step.

use std::sync::{Arc, Mutex, PoisonError};

use bytes::Bytes;
use jiff::Timestamp;

/// What passed on a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// A message to the instrument.
    Sent,
    /// A message from the instrument.
    Received,
    /// Bytes from the instrument that could not be read as a message, as they came.
    Unreadable,
    /// Nothing: the link ended. The bytes say why, in words.
    Lost,
}

/// One message on a link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tapped {
    /// When.
    pub at: Timestamp,
    /// On which link.
    pub link: Arc<str>,
    /// Which way.
    pub direction: Direction,
    /// In which step of the run.
    pub step: Arc<str>,
    /// The bytes, without terminator.
    pub bytes: Bytes,
}

/// Collects what passes on any number of links; copies collect into the same place.
#[derive(Clone, Debug, Default)]
pub struct Tap(Arc<Mutex<Collected>>);

#[derive(Debug, Default)]
struct Collected {
    step: Arc<str>,
    entries: Vec<Tapped>,
}

impl Tap {
    /// Names the step that what follows belongs to.
    pub fn step(&self, name: &str) {
        self.collected().step = name.into();
    }

    /// Takes out what was collected so far.
    #[must_use]
    pub fn take(&self) -> Vec<Tapped> {
        std::mem::take(&mut self.collected().entries)
    }

    /// Adds what passed on a link that another process holds, under the present step.
    pub fn add(&self, at: Timestamp, link: &str, direction: Direction, bytes: Bytes) {
        self.note(at, &link.into(), direction, bytes);
    }

    pub(crate) fn note(&self, at: Timestamp, link: &Arc<str>, direction: Direction, bytes: Bytes) {
        let mut collected = self.collected();
        let step = Arc::clone(&collected.step);
        collected.entries.push(Tapped { at, link: Arc::clone(link), direction, step, bytes });
    }

    fn collected(&self) -> std::sync::MutexGuard<'_, Collected> {
        // A panic elsewhere must not cost the transcript, which is most wanted then.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
