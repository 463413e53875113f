//! The spectrum analyser: settings, sweeps, traces and markers behind SCPI.

mod commands;
mod display;
mod front_end;
mod settings;
mod sweep;
mod work;

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{InstrumentError, Operation, Questionable};
use spurline_units::Hertz;

use super::call::{Call, Outcome};
use super::engine::Device;
use crate::bench::{AnalyserTruth, Identity};
use crate::draw::Seed;
use crate::world::World;
use commands::Command;
use display::Display;
use front_end::FrontEnd;
use settings::Settings;
use sweep::Trace;
use work::Work;

/// A spectrum analyser.
#[derive(Debug)]
pub(crate) struct Analyser {
    identity: Identity,
    world: Arc<World>,
    seed: Seed,
    front_end: FrontEnd,
    settings: Settings,
    display: Display,
    work: Work,
    /// The last finished acquisition.
    trace: Option<Trace>,
    /// Frequency of the marker; switched off if there is none.
    marker: Option<Hertz>,
    aligns_itself: bool,
    /// Sweeps begun since it was switched on.
    sweeps: u64,
    /// Up to when the input was watched for damage.
    watched: Moment,
}

impl Analyser {
    /// An analyser that was just switched on and sweeps continuously.
    pub(crate) fn new(truth: &AnalyserTruth, seed: Seed, world: Arc<World>, now: Moment) -> Self {
        let settings = Settings::new(truth.range);
        Self {
            identity: truth.identity.clone(),
            world,
            seed,
            front_end: FrontEnd::new(truth, seed),
            settings,
            display: Display::default(),
            work: Work::Continuous { since: now },
            trace: None,
            marker: None,
            aligns_itself: true,
            sweeps: 0,
            watched: now,
        }
    }
}

impl Device for Analyser {
    type Command = Command;

    fn headers() -> Vec<(&'static str, Command)> {
        commands::HEADERS.to_vec()
    }

    fn identity(&self) -> &Identity {
        &self.identity
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        self.carry_out(command, call)
    }

    fn settle(&mut self, now: Moment, errors: &mut Vec<InstrumentError>) {
        self.watch_input(now, errors);
        self.finish_work(now);
    }

    fn pending_until(&self) -> Option<Moment> {
        self.work.pending_until()
    }

    fn conditions(&self) -> (Operation, Questionable) {
        let operation = match self.work {
            Work::Idle => Operation::NONE,
            Work::Continuous { .. } | Work::Sweeping { .. } => Operation::SWEEPING,
            Work::Aligning { .. } => Operation::CALIBRATING,
        };
        let flags = self.trace.as_ref().map_or((false, false), |t| (t.overloaded, t.uncalibrated));
        let power = if flags.0 { Questionable::POWER } else { Questionable::NONE };
        let calibration = if flags.1 { Questionable::CALIBRATION } else { Questionable::NONE };
        (operation, power.with(calibration))
    }

    fn reset(&mut self, _: Moment) {
        self.settings = Settings::new(self.settings.range);
        self.display = Display::default();
        self.work = Work::Idle;
        self.trace = None;
        self.marker = None;
        self.aligns_itself = true;
    }

    fn preset(&mut self, now: Moment) {
        self.reset(now);
        self.work = Work::Continuous { since: now };
    }
}

#[cfg(test)]
mod tests;
