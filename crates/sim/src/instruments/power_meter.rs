//! The power meter: the mean power of everything at its sensor, slow, noisy and a little off zero.

mod sensor;

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{
    Element, ErrorCode, InstrumentError, Number, Operation, Parameter, Quantity, Questionable,
};
use spurline_units::{Hertz, Seconds, Watts};

use super::call::{Bounds, Call, Outcome, Reply};
use super::engine::Device;
use crate::bench::{Identity, PowerMeterTruth};
use crate::draw::Seed;
use crate::world::World;
use sensor::Sensor;

/// A power meter.
#[derive(Debug)]
pub(crate) struct PowerMeter {
    identity: Identity,
    highest: Hertz,
    lowest: Hertz,
    sensor: Sensor,
    settings: Settings,
    work: Work,
    /// The last finished reading.
    last: Option<f64>,
}

#[derive(Clone, Copy, Debug)]
struct Settings {
    frequency: f64,
    unit: PowerUnit,
    averages: f64,
    averaging: bool,
    continuous: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum PowerUnit {
    Dbm,
    Watt,
}

/// What the meter is doing.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Work {
    Idle,
    Measuring { end: Moment },
    Zeroing { end: Moment },
}

/// What the meter understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Frequency,
    Unit,
    AverageCount,
    AverageState,
    Zero,
    Initiate,
    Continuous,
    Abort,
    Fetch,
    Read,
    Measure,
}

/// Time of one conversion, in seconds.
const CONVERSION: f64 = 0.02;
/// Time that a zeroing takes.
const ZEROING: f64 = 2.0;
const AVERAGES: Bounds = Bounds { low: 1.0, high: 1024.0, default: 4.0 };

impl PowerMeter {
    pub(crate) fn new(truth: &PowerMeterTruth, seed: Seed, world: Arc<World>) -> Self {
        let mut meter = Self {
            identity: truth.identity.clone(),
            highest: truth.range.high(),
            lowest: truth.range.low(),
            sensor: Sensor::new(truth.clone(), seed, world),
            settings: Settings::default(),
            work: Work::Idle,
            last: None,
        };
        meter.settings.continuous = true;
        meter
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

    fn start(&mut self, now: Moment) {
        self.work = Work::Measuring { end: now.after(self.duration().duration()) };
    }

    fn initiate(&mut self, now: Moment) -> Result<(), ErrorCode> {
        if self.settings.continuous || self.work != Work::Idle {
            return Err(ErrorCode::INIT_IGNORED);
        }
        self.start(now);
        Ok(())
    }

    fn read(&mut self, now: Moment) -> Outcome<Command> {
        if matches!(self.work, Work::Zeroing { .. }) {
            return Err(ErrorCode::SETTINGS_CONFLICT);
        }
        self.settings.continuous = false;
        self.start(now);
        Ok(Reply::Later(Command::Fetch))
    }

    fn fetch(&mut self, now: Moment) -> Outcome<Command> {
        if self.work != Work::Idle {
            return Ok(Reply::Later(Command::Fetch));
        }
        if self.settings.continuous {
            self.last = Some(self.measure(now));
        }
        let watts = self.last.ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)?;
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

    fn zero(&mut self, call: &Call<'_>) -> Outcome<Command> {
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
        self.work = Work::Zeroing { end: call.now.after(Seconds::new(ZEROING).duration()) };
        Ok(Reply::Done)
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            frequency: 50e6,
            unit: PowerUnit::Dbm,
            averages: AVERAGES.default,
            averaging: true,
            continuous: false,
        }
    }
}

impl Device for PowerMeter {
    type Command = Command;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SENSe:]FREQuency[:CW|FIXed][?]", Command::Frequency),
            ("UNIT:POWer[?]", Command::Unit),
            ("[SENSe:]AVERage:COUNt[?]", Command::AverageCount),
            ("[SENSe:]AVERage[:STATe][?]", Command::AverageState),
            ("CALibration:ZERO:AUTO[?]", Command::Zero),
            ("INITiate[:IMMediate][:ALL]", Command::Initiate),
            ("INITiate:CONTinuous[?]", Command::Continuous),
            ("ABORt", Command::Abort),
            ("FETCh[:SCALar][:POWer][:AC]?", Command::Fetch),
            ("READ[:SCALar][:POWer][:AC]?", Command::Read),
            ("MEASure[:SCALar][:POWer][:AC]?", Command::Measure),
        ]
    }

    fn identity(&self) -> &Identity {
        &self.identity
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        let units = [("DBM", PowerUnit::Dbm), ("W", PowerUnit::Watt)];
        match command {
            Command::Frequency => {
                let bounds = Bounds { low: self.lowest.get(), high: self.highest.get(), default: 50e6 };
                call.numeric(Quantity::Frequency, bounds, settings.frequency, |v| settings.frequency = v)
            }
            Command::Unit => call.choice(&units, settings.unit, |unit| settings.unit = unit),
            Command::AverageCount => {
                call.numeric(Quantity::Plain, AVERAGES, settings.averages, |v| settings.averages = v.round())
            }
            Command::AverageState => call.flag(settings.averaging, |on| settings.averaging = on),
            Command::Continuous => call.flag(settings.continuous, |on| settings.continuous = on),
            Command::Zero => self.zero(call),
            Command::Initiate => call.act(|| self.initiate(call.now)),
            Command::Abort => call.act(|| {
                self.work = Work::Idle;
                Ok(())
            }),
            Command::Fetch => call.ask(|| self.fetch(call.now)),
            Command::Read => call.ask(|| self.read(call.now)),
            Command::Measure => call.ask(|| {
                // It sets averaging back to its default before it reads, as SCPI says of `MEASure`.
                (self.settings.averages, self.settings.averaging) = (AVERAGES.default, true);
                self.read(call.now)
            }),
        }
    }

    fn settle(&mut self, now: Moment, _: &mut Vec<InstrumentError>) {
        match self.work {
            Work::Measuring { end } if end <= now => {
                self.work = Work::Idle;
                self.last = Some(self.measure(end));
            }
            Work::Zeroing { end } if end <= now => {
                self.work = Work::Idle;
                self.sensor.zero(end, Hertz::new(self.settings.frequency));
            }
            Work::Idle | Work::Measuring { .. } | Work::Zeroing { .. } => {}
        }
    }

    fn pending_until(&self) -> Option<Moment> {
        match self.work {
            Work::Idle => None,
            Work::Measuring { end } | Work::Zeroing { end } => Some(end),
        }
    }

    fn conditions(&self) -> (Operation, Questionable) {
        let operation = match self.work {
            Work::Idle => Operation::NONE,
            Work::Measuring { .. } => Operation::MEASURING,
            Work::Zeroing { .. } => Operation::CALIBRATING,
        };
        (operation, Questionable::NONE)
    }

    fn reset(&mut self, _: Moment) {
        self.settings = Settings::default();
        self.work = Work::Idle;
        self.last = None;
    }

    fn preset(&mut self, now: Moment) {
        self.reset(now);
        self.settings.continuous = true;
    }
}
