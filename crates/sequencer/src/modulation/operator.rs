//! A person who does what the bench cannot: sets a tone, or keys the unit.

use std::fmt::Debug;
use std::future::Future;
use std::pin::Pin;

use spurline_units::{Hertz, Volts};

/// What the operator is asked to give to the unit's microphone input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToneWanted {
    /// The frequency of a sine.
    pub frequency: Hertz,
    /// Its level, r.m.s.
    pub level: Volts,
}

/// What whoever keys the unit by hand was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Prompted {
    /// To key.
    Key,
    /// To let go, or not to key any more.
    LetGo,
}

/// Who sets a tone or keys: a person, or what stands in for one on a simulated bench.
pub trait Operator: Debug {
    /// Told to key or to let go. A person reads and hears it: the events say so.
    fn prompted(&mut self, what: Prompted);

    /// Ready when the tone is set, or off where none is wanted; `false` if nobody answers. The key is up meanwhile.
    fn set_tone(&mut self, wanted: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>>;
}
