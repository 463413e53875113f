//! What one kind of instrument adds to the engine that all of them share.

use std::fmt::Debug;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, InstrumentError, Operation, Questionable, QuestionablePower};

use super::call::{Call, Outcome};
use crate::bench::Identity;

/// One kind of instrument.
pub(crate) trait Device: Send + 'static {
    /// Its commands.
    type Command: Copy + Debug + PartialEq + Send + Sync + 'static;
    /// What `*SAV` keeps of it.
    type Setup: Clone + Debug + Send + 'static;

    /// Headers in SCPI notation and what they mean.
    fn headers() -> Vec<(&'static str, Self::Command)>;

    /// What it answers to `*IDN?`.
    fn identity(&self) -> &Identity;

    /// Carries out a command.
    fn run(&mut self, command: Self::Command, call: &Call<'_>) -> Outcome<Self::Command>;

    /// Brings the device up to `now`: finishes what has come to its end. Errors of its own go into `errors`.
    fn settle(&mut self, _now: Moment, _errors: &mut Vec<InstrumentError>) {}

    /// When the last pending operation ends, if one is pending.
    fn pending_until(&self, _now: Moment) -> Option<Moment> {
        None
    }

    /// What is the case.
    fn conditions(&self) -> Conditions {
        Conditions::default()
    }

    /// A trigger from the bus: `*TRG`, or a link's own way to say it.
    fn trigger(&mut self, _now: Moment) -> Result<(), ErrorCode> {
        Err(ErrorCode::TRIGGER_IGNORED)
    }

    /// The settings as they are, for `*SAV`.
    fn setup(&self, now: Moment) -> Self::Setup;

    /// `*RCL`: settings as they were saved, pending operations given up.
    fn restore(&mut self, setup: &Self::Setup, now: Moment);

    /// `*RST`: settings to their defaults, pending operations given up.
    fn reset(&mut self, now: Moment);

    /// `SYSTem:PRESet`: settings as a person at the front panel wants them.
    fn preset(&mut self, now: Moment) {
        self.reset(now);
    }
}

/// What is the case in a device, register by register.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Conditions {
    pub(crate) operation: Operation,
    /// Without the bits that sum up another register.
    pub(crate) questionable: Questionable,
    pub(crate) power: QuestionablePower,
}
