//! The power meter: the mean power of everything at its sensor, slow, noisy and a little off zero.

mod commands;
mod sensor;

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{Element, ErrorCode, InstrumentError, Number, Operation, Parameter, Quantity};
use spurline_units::{Hertz, Seconds, Watts};

use super::acquisition::{Acquisition, Finished, Mode, SOURCES};
use super::call::{Bounds, Call, Outcome, Reply, Steps};
use super::device::{Conditions, Device};
use crate::bench::{Identity, PowerMeterTruth};
use crate::draw::Seed;
use crate::world::World;
use commands::Command;
use sensor::Sensor;

/// A power meter.
#[derive(Debug)]
pub(crate) struct PowerMeter {
    identity: Identity,
    highest: Hertz,
    lowest: Hertz,
    sensor: Sensor,
    settings: Settings,
    acquisition: Acquisition,
    /// The last finished reading.
    last: Option<f64>,
}

/// What can be set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settings {
    frequency: f64,
    unit: PowerUnit,
    averages: f64,
    averaging: bool,
    /// What is added to a reading in decibels, for a path outside, and whether it is.
    offset: f64,
    offsetting: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum PowerUnit {
    Dbm,
    Watt,
}

/// Time of one conversion, in seconds.
const CONVERSION: f64 = 0.02;
/// Time that a zeroing takes.
const ZEROING: f64 = 2.0;
const AVERAGES: Bounds = Bounds { low: 1.0, high: 1024.0, default: 4.0 };
const OFFSET: Bounds = Bounds { low: -100.0, high: 100.0, default: 0.0 };
const UNITS: [(&str, PowerUnit); 2] = [("DBM", PowerUnit::Dbm), ("W", PowerUnit::Watt)];

impl PowerMeter {
    pub(crate) fn new(truth: &PowerMeterTruth, seed: Seed, world: Arc<World>) -> Self {
        Self {
            identity: truth.identity.clone(),
            highest: truth.range.high(),
            lowest: truth.range.low(),
            sensor: Sensor::new(truth.clone(), seed, world),
            settings: Settings::default(),
            acquisition: Acquisition::new(Mode::FREE),
            last: None,
        }
    }

    fn conversions(&self) -> u32 {
        if self.settings.averaging { self.settings.averages as u32 } else { 1 }
    }

    fn duration(&self) -> Seconds {
        self.sensor.settling() + Seconds::new(CONVERSION * f64::from(self.conversions()))
    }

    fn measure(&mut self, end: Moment) -> f64 {
        let spacing = Seconds::new(CONVERSION);
        self.sensor.read(end, self.conversions(), spacing, Hertz::new(self.settings.frequency))
    }

    fn read(&mut self, now: Moment) -> Outcome<Command> {
        self.acquisition.restart(now, self.duration())?;
        Ok(Reply::Later(Command::Fetch))
    }

    /// How SCPI says that `MEASure` and `CONFigure` leave the settings.
    fn configure(&mut self, call: &Call<'_>) -> Result<(), ErrorCode> {
        // What is expected, and how finely, does not matter to a sensor with one range.
        for hint in call.unit.between(0, 2)? {
            hint.numeric(Quantity::Level)?;
        }
        (self.settings.averages, self.settings.averaging) = (AVERAGES.default, true);
        self.acquisition.configure();
        Ok(())
    }

    fn fetch(&mut self, now: Moment) -> Outcome<Command> {
        if self.acquisition.pending_until(now).is_some() {
            return Ok(Reply::Later(Command::Fetch));
        }
        if self.acquisition.runs_freely() {
            self.last = Some(self.measure(now));
        }
        let read = self.last.ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)?;
        let offset = if self.settings.offsetting { self.settings.offset } else { 0.0 };
        let watts = read * 10f64.powf(offset / 10.0);
        let shown = match self.settings.unit {
            PowerUnit::Watt => Number::Finite(watts),
            // Near the noise a reading can be zero or below, which has no level.
            PowerUnit::Dbm if watts <= 0.0 => Number::NotANumber,
            PowerUnit::Dbm => {
                let level = Watts::new(watts).to_dbm().get();
                Number::Finite((level * 1000.0).round() / 1000.0)
            }
        };
        Ok(Reply::Answer(Element::from_number(shown).into()))
    }

    fn auto_zero(&mut self, call: &Call<'_>) -> Outcome<Command> {
        if call.unit.query {
            let [] = call.unit.exactly()?;
            return Ok(Reply::flag(false));
        }
        let [parameter] = call.unit.exactly()?;
        let once = matches!(parameter, Parameter::Word(word) if spurline_scpi::spells("ONCE", word));
        if !once {
            // It never zeroes by itself.
            let wanted = parameter.boolean()?;
            return if wanted { Err(ErrorCode::ILLEGAL_PARAMETER_VALUE) } else { Ok(Reply::Done) };
        }
        self.acquisition.calibrate(call.now, Seconds::new(ZEROING));
        Ok(Reply::Done)
    }

    fn zero(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let [] = call.unit.exactly()?;
        self.acquisition.calibrate(call.now, Seconds::new(ZEROING));
        Ok(if call.unit.query { Reply::Later(Command::Zeroed) } else { Reply::Done })
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            frequency: 50e6,
            unit: PowerUnit::Dbm,
            averages: AVERAGES.default,
            averaging: true,
            offset: OFFSET.default,
            offsetting: false,
        }
    }
}

impl Device for PowerMeter {
    type Command = Command;
    type Setup = (Settings, Mode);

    fn headers() -> Vec<(&'static str, Command)> {
        commands::headers()
    }

    fn identity(&self) -> &Identity {
        &self.identity
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let (now, span) = (call.now, self.duration());
        let (settings, acquisition) = (&mut self.settings, &mut self.acquisition);
        match command {
            Command::Frequency => {
                let bounds = Bounds { low: self.lowest.get(), high: self.highest.get(), default: 50e6 };
                call.numeric(Quantity::Frequency, bounds, settings.frequency, |v| settings.frequency = v)
            }
            Command::Unit => call.choice(&UNITS, settings.unit, |unit| settings.unit = unit),
            Command::AverageCount => {
                let current = settings.averages;
                let steps = Steps { down: (current / 2.0).floor(), up: current * 2.0 };
                call.stepped(Quantity::Plain, AVERAGES, current, steps, |v| settings.averages = v.round())
            }
            Command::AverageState => call.flag(settings.averaging, |on| settings.averaging = on),
            Command::Offset => {
                call.numeric(Quantity::Ratio, OFFSET, settings.offset, |v| settings.offset = v)
            }
            Command::OffsetState => call.flag(settings.offsetting, |on| settings.offsetting = on),
            Command::Continuous => {
                call.flag(acquisition.mode().continuous, |on| acquisition.set_continuous(on))
            }
            Command::Source => call.choice(&SOURCES, acquisition.mode().source, |source| {
                acquisition.set_source(source, now, span);
            }),
            Command::AutoZero => self.auto_zero(call),
            Command::Zero => self.zero(call),
            Command::Zeroed => Ok(Reply::number(0.0)),
            Command::Initiate => call.act(|| acquisition.initiate(now, span)),
            Command::Trigger => call.act(|| acquisition.force(now, span)),
            Command::Abort => call.act(|| {
                acquisition.abort();
                Ok(())
            }),
            Command::Fetch => call.ask(|| self.fetch(now)),
            Command::Read => call.ask(|| self.read(now)),
            Command::Measure => {
                self.configure(call)?;
                self.read(now)
            }
            Command::Configure if call.unit.query => call.ask(|| Ok(Reply::text("POW:AC"))),
            Command::Configure => self.configure(call).map(|()| Reply::Done),
        }
    }

    fn settle(&mut self, now: Moment, _: &mut Vec<InstrumentError>) {
        match self.acquisition.finish(now) {
            Some(Finished::Acquired(end)) => self.last = Some(self.measure(end)),
            Some(Finished::Calibrated(end)) => {
                self.sensor.zero(end, Hertz::new(self.settings.frequency));
            }
            None => {}
        }
    }

    fn pending_until(&self, now: Moment) -> Option<Moment> {
        self.acquisition.pending_until(now)
    }

    fn conditions(&self) -> Conditions {
        Conditions { operation: self.acquisition.operation(Operation::MEASURING), ..Conditions::default() }
    }

    fn trigger(&mut self, now: Moment) -> Result<(), ErrorCode> {
        let span = self.duration();
        self.acquisition.bus_trigger(now, span)
    }

    fn setup(&self, _: Moment) -> Self::Setup {
        (self.settings, self.acquisition.mode())
    }

    fn restore(&mut self, (settings, mode): &Self::Setup, _: Moment) {
        self.settings = *settings;
        self.acquisition = Acquisition::new(*mode);
        self.last = None;
    }

    fn reset(&mut self, now: Moment) {
        self.restore(&(Settings::default(), Mode::RESET), now);
    }

    fn preset(&mut self, now: Moment) {
        self.restore(&(Settings::default(), Mode::FREE), now);
    }
}
