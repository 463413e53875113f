//! The spectrum analyser: coupled settings, sweeps that take their time, traces, a marker.

mod front_end;
mod settings;

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{
    ByteOrder, Element, ErrorCode, InstrumentError, Number, Operation, Parameter, Quantity, Questionable,
    Unit,
};

use super::call::{Bounds, Call, Outcome, Reply};
use super::engine::Device;
use crate::bench::{AnalyserTruth, Identity};
use crate::draw::Seed;
use crate::physics::detector::Detector;
use crate::world::World;
use front_end::{FrontEnd, Trace};
use settings::{Format, Settings, bandwidth_step};

/// A spectrum analyser.
#[derive(Debug)]
pub(crate) struct Analyser {
    front_end: FrontEnd,
    settings: Settings,
    work: Work,
    trace: Option<Trace>,
    marker: Option<usize>,
    reported_damage: bool,
}

/// What the analyser is doing.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Work {
    Idle,
    Sweeping { end: Moment, settings: Settings },
    Aligning { end: Moment },
}

/// What the analyser understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Set(Setting),
    Detector,
    Attenuation,
    Preamplifier,
    Unit,
    Continuous,
    Initiate,
    Abort,
    Format,
    Border,
    Trace,
    MarkerState,
    MarkerMaximum,
    MarkerX,
    MarkerY,
    AlignmentAuto,
    Align,
}

/// Settings of one number or one switch each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Setting {
    Centre,
    Span,
    Start,
    Stop,
    Rbw,
    RbwAuto,
    Vbw,
    VbwAuto,
    Points,
    SweepTime,
    SweepTimeAuto,
    SweepCount,
    AttenuationAuto,
    ReferenceLevel,
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
        let mut settings = Settings::reset(truth.range);
        // Switched on, an analyser sweeps by itself.
        settings.continuous = true;
        Self {
            front_end: FrontEnd::new(truth.clone(), seed, world),
            settings,
            work: Work::Idle,
            trace: None,
            marker: None,
            reported_damage: false,
        }
    }

    fn initiate(&mut self, now: Moment) -> Result<(), ErrorCode> {
        if self.settings.continuous || self.work != Work::Idle {
            return Err(ErrorCode::INIT_IGNORED);
        }
        let end = now.after(self.settings.duration().duration());
        self.work = Work::Sweeping { end, settings: self.settings };
        Ok(())
    }

    /// The last finished sweep; sweeping by itself, one that has just ended.
    fn newest(&mut self, now: Moment) -> Result<&Trace, ErrorCode> {
        if self.settings.continuous {
            self.trace = Some(self.front_end.sweep(&self.settings, now));
        }
        self.trace.as_ref().ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)
    }

    fn fetch(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let [name] = call.unit.exactly()?;
        if !matches!(name, Parameter::Word(word) if word.eq_ignore_ascii_case("TRACE1")) {
            return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
        }
        let (format, order) = (self.settings.format, self.settings.order);
        let trace = self.newest(call.now)?;
        Ok(Reply::Answer(match format {
            Format::Real => Element::from_f32s(&trace.levels, order).into(),
            Format::Ascii => Unit {
                elements: trace
                    .levels
                    .iter()
                    .map(|level| Element::from_number(Number::Finite(f64::from(*level))))
                    .collect(),
            },
        }))
    }

    fn marker_to_maximum(&mut self, now: Moment) -> Result<(), ErrorCode> {
        let trace = self.newest(now)?;
        let highest = trace.levels.iter().enumerate().max_by(|one, other| one.1.total_cmp(other.1));
        self.marker = highest.map(|(point, _)| point);
        Ok(())
    }

    fn marker_x(&mut self, call: &Call<'_>) -> Outcome<Command> {
        if !call.unit.query {
            let [parameter] = call.unit.exactly()?;
            let spurline_scpi::Numeric::Value(wanted) = parameter.numeric(Quantity::Frequency)? else {
                return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
            };
            self.marker = Some(self.settings.point_of(wanted));
            return Ok(Reply::Done);
        }
        let [] = call.unit.exactly()?;
        let trace = self.trace.as_ref();
        let frequency = self.marker.zip(trace).map(|(point, trace)| trace.settings.frequency_of(point));
        Ok(Reply::Answer(Element::from_number(frequency.map_or(Number::NotANumber, Number::Finite)).into()))
    }

    fn marker_y(&self, call: &Call<'_>) -> Outcome<Command> {
        let [] = call.unit.exactly()?;
        let level = self.marker.zip(self.trace.as_ref()).and_then(|(point, trace)| trace.levels.get(point));
        let number = level.map_or(Number::NotANumber, |level| Number::Finite(f64::from(*level)));
        Ok(Reply::Answer(Element::from_number(number).into()))
    }

    fn format(&mut self, call: &Call<'_>) -> Outcome<Command> {
        if call.unit.query {
            let [] = call.unit.exactly()?;
            return Ok(Reply::Answer(match self.settings.format {
                Format::Ascii => Element::from_word("ASC").into(),
                Format::Real => {
                    Unit { elements: vec![Element::from_word("REAL"), Element::from_integer(32)] }
                }
            }));
        }
        let parameters = call.unit.between(1, 2)?;
        let format = parameters[0].choice(&[("ASCii", Format::Ascii), ("REAL", Format::Real)])?;
        if let (Format::Real, Some(length)) = (format, parameters.get(1))
            && length.numeric(Quantity::Plain)? != spurline_scpi::Numeric::Value(32.0)
        {
            return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
        }
        self.settings.format = format;
        Ok(Reply::Done)
    }

    fn attenuation(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let bounds = Bounds { low: 0.0, high: settings::MOST_ATTENUATION, default: 10.0 };
        let settings = &mut self.settings;
        let current = settings.attenuation();
        call.numeric(Quantity::Ratio, bounds, current, |value| {
            let step = settings::ATTENUATION_STEP;
            settings.manual_attenuation = Some((value / step).round() * step);
        })
    }

    fn run_setting(&mut self, setting: Setting, call: &Call<'_>) -> Outcome<Command> {
        let range = self.front_end.range();
        let s = &mut self.settings;
        let frequency =
            Bounds { low: range.low().get(), high: range.high().get(), default: range.high().get() / 2.0 };
        let span = Bounds { low: 0.0, high: range.high().get(), default: range.high().get() };
        let bandwidth = Bounds { low: settings::NARROWEST, high: settings::WIDEST, default: 1e6 };
        match setting {
            Setting::Centre => call.numeric(Quantity::Frequency, frequency, s.centre, |v| s.centre = v),
            Setting::Span => call.numeric(Quantity::Frequency, span, s.span, |v| s.span = v),
            Setting::Start => {
                let (low, high) = s.edges();
                call.numeric(Quantity::Frequency, frequency, low, |v| s.set_edges(v, high.max(v)))
            }
            Setting::Stop => {
                let (low, high) = s.edges();
                call.numeric(Quantity::Frequency, frequency, high, |v| s.set_edges(low.min(v), v))
            }
            Setting::Rbw => {
                let current = s.rbw();
                call.numeric(Quantity::Frequency, bandwidth, current, |v| {
                    s.manual_rbw = Some(bandwidth_step(v))
                })
            }
            Setting::RbwAuto => {
                let current = s.rbw();
                call.flag(s.manual_rbw.is_none(), |auto| s.manual_rbw = (!auto).then_some(current))
            }
            Setting::Vbw => {
                let current = s.vbw();
                call.numeric(Quantity::Frequency, bandwidth, current, |v| s.manual_vbw = Some(v))
            }
            Setting::VbwAuto => {
                let current = s.vbw();
                call.flag(s.manual_vbw.is_none(), |auto| s.manual_vbw = (!auto).then_some(current))
            }
            Setting::Points => {
                let bounds = Bounds { low: 101.0, high: 10_001.0, default: 1001.0 };
                call.numeric(Quantity::Plain, bounds, f64::from(s.points), |v| s.points = v.round() as u32)
            }
            Setting::SweepTime => {
                let bounds = Bounds { low: 1e-6, high: 1000.0, default: 0.1 };
                let current = s.sweep_time();
                call.numeric(Quantity::Time, bounds, current, |v| s.manual_time = Some(v))
            }
            Setting::SweepTimeAuto => {
                let current = s.sweep_time();
                call.flag(s.manual_time.is_none(), |auto| s.manual_time = (!auto).then_some(current))
            }
            Setting::SweepCount => {
                let bounds = Bounds { low: 1.0, high: 1000.0, default: 1.0 };
                call.numeric(Quantity::Plain, bounds, f64::from(s.count), |v| s.count = v.round() as u32)
            }
            Setting::AttenuationAuto => {
                let current = s.attenuation();
                call.flag(s.manual_attenuation.is_none(), |auto| {
                    s.manual_attenuation = (!auto).then_some(current);
                })
            }
            Setting::ReferenceLevel => {
                let bounds = Bounds { low: -130.0, high: 30.0, default: 0.0 };
                call.numeric(Quantity::Level, bounds, s.reference, |v| s.reference = v)
            }
        }
    }
}

impl Device for Analyser {
    type Command = Command;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SENSe:]FREQuency:CENTer[?]", Command::Set(Setting::Centre)),
            ("[SENSe:]FREQuency:SPAN[?]", Command::Set(Setting::Span)),
            ("[SENSe:]FREQuency:STARt[?]", Command::Set(Setting::Start)),
            ("[SENSe:]FREQuency:STOP[?]", Command::Set(Setting::Stop)),
            ("[SENSe:]BANDwidth|BWIDth[:RESolution][?]", Command::Set(Setting::Rbw)),
            ("[SENSe:]BANDwidth|BWIDth[:RESolution]:AUTO[?]", Command::Set(Setting::RbwAuto)),
            ("[SENSe:]BANDwidth|BWIDth:VIDeo[?]", Command::Set(Setting::Vbw)),
            ("[SENSe:]BANDwidth|BWIDth:VIDeo:AUTO[?]", Command::Set(Setting::VbwAuto)),
            ("[SENSe:]SWEep:POINts[?]", Command::Set(Setting::Points)),
            ("[SENSe:]SWEep:TIME[?]", Command::Set(Setting::SweepTime)),
            ("[SENSe:]SWEep:TIME:AUTO[?]", Command::Set(Setting::SweepTimeAuto)),
            ("[SENSe:]SWEep:COUNt[?]", Command::Set(Setting::SweepCount)),
            ("[SENSe:]DETector[:FUNCtion][?]", Command::Detector),
            ("[SENSe:]POWer[:RF]:ATTenuation[?]", Command::Attenuation),
            ("[SENSe:]POWer[:RF]:ATTenuation:AUTO[?]", Command::Set(Setting::AttenuationAuto)),
            ("INPut:ATTenuation[?]", Command::Attenuation),
            ("INPut:ATTenuation:AUTO[?]", Command::Set(Setting::AttenuationAuto)),
            ("INPut:GAIN:STATe[?]", Command::Preamplifier),
            ("DISPlay[:WINDow][:TRACe]:Y[:SCALe]:RLEVel[?]", Command::Set(Setting::ReferenceLevel)),
            ("UNIT:POWer[?]", Command::Unit),
            ("INITiate:CONTinuous[?]", Command::Continuous),
            ("INITiate[:IMMediate][:ALL]", Command::Initiate),
            ("ABORt", Command::Abort),
            ("FORMat[:DATA][?]", Command::Format),
            ("FORMat:BORDer[?]", Command::Border),
            ("TRACe[:DATA]?", Command::Trace),
            ("CALCulate#:MARKer#[:STATe][?]", Command::MarkerState),
            ("CALCulate#:MARKer#:MAXimum", Command::MarkerMaximum),
            ("CALCulate#:MARKer#:X[?]", Command::MarkerX),
            ("CALCulate#:MARKer#:Y?", Command::MarkerY),
            ("CALibration:AUTO[?]", Command::AlignmentAuto),
            ("CALibration[:ALL]", Command::Align),
        ]
    }

    fn identity(&self) -> &Identity {
        self.front_end.identity()
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        match command {
            Command::Detector => call.choice(&DETECTORS, settings.detector, |d| settings.detector = d),
            Command::Attenuation => self.attenuation(call),
            Command::Preamplifier => call.flag(settings.preamplifier, |on| settings.preamplifier = on),
            Command::Unit => call.choice(&[("DBM", ())], (), |()| ()),
            Command::Continuous => {
                let outcome = call.flag(settings.continuous, |on| settings.continuous = on);
                if settings.continuous && matches!(self.work, Work::Sweeping { .. }) {
                    self.work = Work::Idle;
                }
                outcome
            }
            Command::Initiate => call.act(|| self.initiate(call.now)),
            Command::Abort => call.act(|| {
                self.work = Work::Idle;
                Ok(())
            }),
            Command::Format => self.format(call),
            Command::Border => {
                let orders = [("NORMal", ByteOrder::Big), ("SWAPped", ByteOrder::Little)];
                call.choice(&orders, settings.order, |order| settings.order = order)
            }
            Command::Trace => self.fetch(call),
            Command::MarkerState => {
                let on = self.marker.is_some();
                let middle = settings.points as usize / 2;
                let marker = &mut self.marker;
                call.flag(on, |on| *marker = on.then(|| marker.unwrap_or(middle)))
            }
            Command::MarkerMaximum => call.act(|| self.marker_to_maximum(call.now)),
            Command::MarkerX => self.marker_x(call),
            Command::MarkerY => self.marker_y(call),
            Command::AlignmentAuto => call.flag(settings.aligns_itself, |on| settings.aligns_itself = on),
            Command::Align => call.act(|| {
                let span = spurline_units::Seconds::new(ALIGNMENT).duration();
                self.work = Work::Aligning { end: call.now.after(span) };
                Ok(())
            }),
            Command::Set(setting) => self.run_setting(setting, call),
        }
    }

    fn settle(&mut self, now: Moment, errors: &mut Vec<InstrumentError>) {
        self.front_end.watch(now);
        match self.work {
            Work::Sweeping { end, settings } if end <= now => {
                self.work = Work::Idle;
                self.trace = Some(self.front_end.sweep(&settings, end));
            }
            Work::Aligning { end } if end <= now => self.work = Work::Idle,
            Work::Idle | Work::Sweeping { .. } | Work::Aligning { .. } => {}
        }
        if self.front_end.is_damaged(now) && !self.reported_damage {
            self.reported_damage = true;
            errors.push(InstrumentError::standard(ErrorCode::HARDWARE_ERROR).with_info("input damaged"));
        }
    }

    fn pending_until(&self) -> Option<Moment> {
        match self.work {
            Work::Idle => None,
            Work::Sweeping { end, .. } | Work::Aligning { end } => Some(end),
        }
    }

    fn conditions(&self) -> (Operation, Questionable) {
        let operation = match self.work {
            Work::Idle => Operation::NONE,
            Work::Sweeping { .. } => Operation::SWEEPING,
            Work::Aligning { .. } => Operation::CALIBRATING,
        };
        let mut questionable = Questionable::NONE;
        if let Some(trace) = &self.trace {
            if trace.overload {
                questionable = questionable.with(Questionable::POWER);
            }
            if trace.uncalibrated {
                questionable = questionable.with(Questionable::CALIBRATION);
            }
        }
        (operation, questionable)
    }

    fn reset(&mut self, _: Moment) {
        self.settings = Settings::reset(self.front_end.range());
        self.work = Work::Idle;
        self.trace = None;
        self.marker = None;
    }

    fn preset(&mut self, now: Moment) {
        self.reset(now);
        self.settings.continuous = true;
    }
}

#[cfg(test)]
mod tests;
