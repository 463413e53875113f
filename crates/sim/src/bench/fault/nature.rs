//! What kind of thing a fault is: what it befalls, what it does unless stated otherwise, which keys mean something.

use std::time::Duration;

/// What a fault befalls, which is also what its `times` and `chance` count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Befalls {
    /// A program message that the instrument takes.
    Message,
    /// An answer.
    Answer,
    /// An answer with a block in it.
    Block,
    /// An answer with a number in it that is not an entry of the error queue.
    Number,
    /// Work that takes time: a sweep, an alignment, a zero.
    Work,
    /// A connection that is being made.
    Connection,
    /// The instrument from the beginning, or from some message on: a state that lasts.
    Instrument,
    /// The bytes as they come in, before messages are cut out of them.
    Bytes,
}

/// What a fault is unless the file states otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Nature {
    pub(crate) befalls: Befalls,
    /// How often it happens; without end if not stated.
    pub(crate) times: Option<u32>,
    /// How long it lasts; for ever if not stated.
    pub(crate) lasts: Option<Duration>,
    /// The time that it needs.
    pub(crate) by: Option<Duration>,
    /// The bytes that it needs.
    pub(crate) bytes: Option<u32>,
    /// The number that it needs.
    pub(crate) count: Option<u32>,
}

impl Nature {
    /// All keys that some faults take and others do not.
    pub(crate) const KEYS: [&'static str; 6] = ["on", "times", "chance", "by", "bytes", "count"];

    /// A fault that befalls this again and again.
    pub(super) const fn every(befalls: Befalls) -> Self {
        Self { befalls, times: None, lasts: None, by: None, bytes: None, count: None }
    }

    /// A fault that befalls this once.
    pub(super) const fn once(befalls: Befalls) -> Self {
        Self { times: Some(1), ..Self::every(befalls) }
    }

    pub(super) const fn times(self, times: u32) -> Self {
        Self { times: Some(times), ..self }
    }

    pub(super) const fn lasts(self, seconds: u64) -> Self {
        Self { lasts: Some(Duration::from_secs(seconds)), ..self }
    }

    pub(super) const fn by(self, milliseconds: u64) -> Self {
        Self { by: Some(Duration::from_millis(milliseconds)), ..self }
    }

    pub(super) const fn bytes(self, bytes: u32) -> Self {
        Self { bytes: Some(bytes), ..self }
    }

    pub(super) const fn count(self, count: u32) -> Self {
        Self { count: Some(count), ..self }
    }

    /// Those of [`Nature::KEYS`] that mean something to it.
    pub(super) fn keys(self) -> Vec<&'static str> {
        let (counted, on) = match self.befalls {
            Befalls::Instrument | Befalls::Bytes => (false, false),
            Befalls::Connection => (true, false),
            Befalls::Message | Befalls::Answer | Befalls::Block | Befalls::Number | Befalls::Work => {
                (true, true)
            }
        };
        let meant = [on, counted, counted, self.by.is_some(), self.bytes.is_some(), self.count.is_some()];
        Self::KEYS.into_iter().zip(meant).filter(|(_, meant)| *meant).map(|(key, _)| key).collect()
    }
}
