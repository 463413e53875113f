//! A person who sets the tone where the bench has no audio generator for it.

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

/// Who sets a tone: a person, or what stands in for one on a simulated bench. The key is up meanwhile.
pub trait Operator: Debug {
    /// Ready when the tone is set, or off where none is wanted; `false` if nobody answers.
    fn set_tone(&mut self, wanted: Option<ToneWanted>) -> Pin<Box<dyn Future<Output = bool> + '_>>;
}
