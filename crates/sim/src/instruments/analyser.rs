//! The spectrum analyser: coupled settings, sweeps that take their time, traces, a marker.

mod average;
mod commands;
mod errors;
mod front_end;
mod level_unit;
mod marker;
mod nearby;
mod numbers;
mod settings;
mod sweep;
mod transfer;
mod view;
mod waves;

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, InstrumentError, Operation, Questionable, QuestionablePower};
use spurline_units::Seconds;

use super::acquisition::{Acquisition, Finished, Mode, SOURCES};
use super::call::{Call, Outcome, Reply};
use super::device::{Conditions, Device};
use crate::bench::{AnalyserTruth, Identity};
use crate::draw::Seed;
use crate::physics::detector::Detector;
use crate::world::World;
use average::{AVERAGES, MODES, acquire};
use commands::Command;
use front_end::FrontEnd;
use level_unit::UNITS;
use settings::Settings;
use sweep::Trace;
use transfer::{Format, ORDERS, Transfer, only_trace};

/// A spectrum analyser.
#[derive(Debug)]
pub(crate) struct Analyser {
    front_end: FrontEnd,
    settings: Settings,
    acquisition: Acquisition,
    /// The settings of the sweep that is under way.
    sweeping: Settings,
    trace: Option<Trace>,
    /// When the last sweep of a free run ended.
    free_end: Option<Moment>,
    marker: Option<usize>,
    /// Whether the frequency counter is on.
    counter: bool,
    reported_damage: bool,
}

/// Time of a self-alignment.
const ALIGNMENT: f64 = 3.0;
const DETECTORS: [(&str, Detector); 5] = [
    ("POSitive", Detector::Positive),
    ("NEGative", Detector::Negative),
    ("SAMPle", Detector::Sample),
    ("AVERage", Detector::Average),
    ("RMS", Detector::Rms),
];

impl Analyser {
    pub(crate) fn new(truth: &AnalyserTruth, seed: Seed, world: Arc<World>) -> Self {
        let settings = Settings::reset(truth.range);
        Self {
            front_end: FrontEnd::new(truth.clone(), seed, world),
            settings,
            // Switched on, an analyser sweeps by itself.
            acquisition: Acquisition::new(Mode::FREE),
            sweeping: settings,
            trace: None,
            free_end: None,
            marker: None,
            counter: false,
            reported_damage: false,
        }
    }

    /// Starts a sweep in one of the ways that there are, with the settings as they are now.
    fn start(
        &mut self,
        now: Moment,
        way: fn(&mut Acquisition, Moment, Seconds) -> Result<(), ErrorCode>,
    ) -> Result<(), ErrorCode> {
        way(&mut self.acquisition, now, self.settings.duration())?;
        self.sweeping = self.settings;
        Ok(())
    }

    /// The last finished sweep; sweeping by itself, one that has just ended.
    fn newest(&mut self, now: Moment) -> Result<&Trace, ErrorCode> {
        if self.acquisition.runs_freely() {
            // Everything that is asked at one moment is told of one sweep.
            let same = self.free_end == Some(now)
                && self.trace.as_ref().is_some_and(|trace| trace.settings == self.settings);
            if !same {
                self.trace = Some(acquire(&mut self.front_end, &self.settings, now));
                self.free_end = Some(now);
            }
        }
        self.trace.as_ref().ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)
    }

    fn fetch(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let [name] = call.unit.exactly()?;
        only_trace(name)?;
        let transfer =
            Transfer { format: self.settings.format, order: self.settings.order, unit: self.settings.unit };
        Ok(transfer.trace(&self.newest(call.now)?.levels))
    }

    fn trace_points(&self, call: &Call<'_>) -> Outcome<Command> {
        if let Some(name) = call.unit.between(0, 1)?.first() {
            only_trace(name)?;
        }
        Ok(Reply::number(f64::from(self.settings.points)))
    }

    fn align(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let [] = call.unit.exactly()?;
        self.acquisition.calibrate(call.now, Seconds::new(ALIGNMENT));
        Ok(if call.unit.query { Reply::Later(Command::Aligned) } else { Reply::Done })
    }

    fn format(&mut self, call: &Call<'_>) -> Outcome<Command> {
        if call.unit.query {
            return call.ask(|| Ok(self.settings.format.answer()));
        }
        self.settings.format = Format::read(call)?;
        Ok(Reply::Done)
    }

    fn source(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let (span, settings) = (self.settings.duration(), self.settings);
        let (acquisition, sweeping) = (&mut self.acquisition, &mut self.sweeping);
        call.choice(&SOURCES, acquisition.mode().source, |source| {
            *sweeping = settings;
            acquisition.set_source(source, call.now, span);
        })
    }
}

impl Device for Analyser {
    type Command = Command;
    type Setup = (Settings, Mode);

    fn headers() -> Vec<(&'static str, Command)> {
        commands::headers()
    }

    fn identity(&self) -> &Identity {
        self.front_end.identity()
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        match command {
            Command::Number(number) => numbers::number(settings, self.front_end.range(), number, call),
            Command::Switch(switch) => numbers::switch(settings, switch, call),
            Command::Marker(marker) => self.run_marker(marker, call),
            Command::FullSpan => call.act(|| {
                settings.set_full_span(self.front_end.range());
                Ok(())
            }),
            Command::Detector => call.choice(&DETECTORS, settings.detector, |d| settings.detector = d),
            Command::Average => call.choice(&AVERAGES, settings.average, |way| settings.average = way),
            Command::TraceMode => call.choice(&MODES, settings.mode, |mode| settings.mode = mode),
            Command::Unit => call.choice(&UNITS, settings.unit, |unit| settings.unit = unit),
            Command::Reference => call.choice(&[("INTernal", ())], (), |()| ()),
            Command::Continuous => {
                let acquisition = &mut self.acquisition;
                call.flag(acquisition.mode().continuous, |on| acquisition.set_continuous(on))
            }
            Command::Source => self.source(call),
            Command::Initiate => call.act(|| self.start(call.now, Acquisition::initiate)),
            Command::Trigger => call.act(|| self.start(call.now, Acquisition::force)),
            Command::Abort => call.act(|| {
                self.acquisition.abort();
                Ok(())
            }),
            Command::Format => self.format(call),
            Command::Border => call.choice(&ORDERS, settings.order, |order| settings.order = order),
            Command::Trace => self.fetch(call),
            Command::TracePoints => self.trace_points(call),
            Command::TraceCatalogue => call.ask(|| Ok(Reply::text("TRACE1"))),
            Command::Align => self.align(call),
            Command::Aligned => Ok(Reply::number(0.0)),
        }
    }

    fn settle(&mut self, now: Moment, errors: &mut Vec<InstrumentError>) {
        self.front_end.watch(now);
        match self.acquisition.finish(now) {
            Some(Finished::Acquired(end)) => {
                self.trace = Some(acquire(&mut self.front_end, &self.sweeping, end));
            }
            Some(Finished::Calibrated(end)) => self.front_end.align(end),
            None => {}
        }
        if self.front_end.is_damaged(now) && !self.reported_damage {
            self.reported_damage = true;
            errors.push(InstrumentError::standard(ErrorCode::HARDWARE_ERROR).with_info("input damaged"));
        }
    }

    fn pending_until(&self, now: Moment) -> Option<Moment> {
        self.acquisition.pending_until(now)
    }

    fn conditions(&self) -> Conditions {
        let (overload, uncalibrated) =
            self.trace.as_ref().map_or((false, false), |trace| (trace.overload, trace.uncalibrated));
        Conditions {
            operation: self.acquisition.operation(Operation::SWEEPING),
            questionable: if uncalibrated { Questionable::CALIBRATION } else { Questionable::NONE },
            power: if overload { QuestionablePower::OVERLOAD } else { QuestionablePower::NONE },
        }
    }

    fn trigger(&mut self, now: Moment) -> Result<(), ErrorCode> {
        self.start(now, Acquisition::bus_trigger)
    }

    fn setup(&self, _: Moment) -> Self::Setup {
        (self.settings, self.acquisition.mode())
    }

    fn restore(&mut self, (settings, mode): &Self::Setup, _: Moment) {
        self.settings = *settings;
        self.acquisition = Acquisition::new(*mode);
        (self.trace, self.free_end) = (None, None);
        self.marker = None;
        self.counter = false;
    }

    fn reset(&mut self, now: Moment) {
        self.restore(&(Settings::reset(self.front_end.range()), Mode::RESET), now);
    }

    fn preset(&mut self, now: Moment) {
        self.restore(&(Settings::reset(self.front_end.range()), Mode::FREE), now);
    }
}

#[cfg(test)]
mod tests;
