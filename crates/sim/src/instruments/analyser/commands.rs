//! What the analyser understands, and what each command does to it.

use spurline_scpi::{ByteOrder, ErrorCode, Quantity};
use spurline_units::{Dbm, Hertz};

use super::Analyser;
use super::display::{Format, LevelUnit};
use super::settings::{
    ATTENUATIONS, BANDWIDTHS, COUNTS, Coupled, Mode, POINTS, REFERENCES, TIMES, VIDEO_BANDWIDTHS,
    attenuator_step, step,
};
use super::sweep::Trace;
use super::work::Work;
use crate::instruments::call::{Bounds, Call, Outcome, Reply};
use crate::physics::detector::Detector;

/// A command of the analyser.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Centre,
    Span,
    FullSpan,
    Start,
    Stop,
    Bandwidth,
    BandwidthAuto,
    Video,
    VideoAuto,
    Points,
    Time,
    TimeAuto,
    Count,
    Detector,
    Attenuation,
    AttenuationAuto,
    Preamplifier,
    Reference,
    Unit,
    Initiate,
    Continuous,
    Abort,
    Format,
    ByteOrder,
    Trace,
    TraceMode,
    MarkerState,
    MarkerPeak,
    MarkerX,
    MarkerY,
    Align,
    Aligned,
    AlignsItself,
}

/// Headers in SCPI notation; `CALCulate:MARKer`, `INPut:GAIN:STATe` and `TRACe:MODE` are common practice rather than
/// SCPI-1999.
pub(super) const HEADERS: [(&str, Command); 35] = [
    ("[SENSe:]FREQuency:CENTer[?]", Command::Centre),
    ("[SENSe:]FREQuency:SPAN[?]", Command::Span),
    ("[SENSe:]FREQuency:SPAN:FULL", Command::FullSpan),
    ("[SENSe:]FREQuency:STARt[?]", Command::Start),
    ("[SENSe:]FREQuency:STOP[?]", Command::Stop),
    ("[SENSe:]BANDwidth|BWIDth[:RESolution][?]", Command::Bandwidth),
    ("[SENSe:]BANDwidth|BWIDth[:RESolution]:AUTO[?]", Command::BandwidthAuto),
    ("[SENSe:]BANDwidth|BWIDth:VIDeo[?]", Command::Video),
    ("[SENSe:]BANDwidth|BWIDth:VIDeo:AUTO[?]", Command::VideoAuto),
    ("[SENSe:]SWEep:POINts[?]", Command::Points),
    ("[SENSe:]SWEep:TIME[?]", Command::Time),
    ("[SENSe:]SWEep:TIME:AUTO[?]", Command::TimeAuto),
    ("[SENSe:]SWEep:COUNt[?]", Command::Count),
    ("[SENSe:]DETector[:FUNCtion][?]", Command::Detector),
    ("[SENSe:]POWer[:RF]:ATTenuation[?]", Command::Attenuation),
    ("[SENSe:]POWer[:RF]:ATTenuation:AUTO[?]", Command::AttenuationAuto),
    ("INPut:ATTenuation[?]", Command::Attenuation),
    ("INPut:ATTenuation:AUTO[?]", Command::AttenuationAuto),
    ("INPut:GAIN:STATe[?]", Command::Preamplifier),
    ("DISPlay[:WINDow#][:TRACe#]:Y[:SCALe]:RLEVel[?]", Command::Reference),
    ("UNIT:POWer[?]", Command::Unit),
    ("INITiate[:IMMediate][:ALL]", Command::Initiate),
    ("INITiate:CONTinuous[?]", Command::Continuous),
    ("ABORt", Command::Abort),
    ("FORMat[:DATA][?]", Command::Format),
    ("FORMat:BORDer[?]", Command::ByteOrder),
    ("TRACe[:DATA]?", Command::Trace),
    ("TRACe:MODE[?]", Command::TraceMode),
    ("CALCulate:MARKer#[:STATe][?]", Command::MarkerState),
    ("CALCulate:MARKer#:MAXimum[:PEAK]", Command::MarkerPeak),
    ("CALCulate:MARKer#:X[?]", Command::MarkerX),
    ("CALCulate:MARKer#:Y?", Command::MarkerY),
    ("CALibration[:ALL]", Command::Align),
    ("CALibration[:ALL]?", Command::Aligned),
    ("CALibration:AUTO[?]", Command::AlignsItself),
];

const DETECTORS: [(&str, Detector); 5] = [
    ("POSitive", Detector::Positive),
    ("NEGative", Detector::Negative),
    ("SAMPle", Detector::Sample),
    ("AVERage", Detector::Average),
    ("RMS", Detector::Rms),
];
const MODES: [(&str, Mode); 3] =
    [("WRITe", Mode::Write), ("MAXHold", Mode::MaxHold), ("AVERage", Mode::Average)];
const UNITS: [(&str, LevelUnit); 3] =
    [("DBM", LevelUnit::Dbm), ("DBUV", LevelUnit::DbMicrovolt), ("W", LevelUnit::Watt)];
const ORDERS: [(&str, ByteOrder); 2] = [("NORMal", ByteOrder::Big), ("SWAPped", ByteOrder::Little)];

impl Analyser {
    /// Carries out one command; one that changes a setting restarts what is running.
    pub(super) fn carry_out(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let before = self.settings.clone();
        let outcome = match command {
            Command::Centre | Command::Span | Command::FullSpan | Command::Start | Command::Stop => {
                self.frequency(command, call)
            }
            Command::Bandwidth
            | Command::BandwidthAuto
            | Command::Video
            | Command::VideoAuto
            | Command::Points
            | Command::Time
            | Command::TimeAuto
            | Command::Count
            | Command::Detector
            | Command::TraceMode => self.sweeping(command, call),
            Command::Attenuation
            | Command::AttenuationAuto
            | Command::Preamplifier
            | Command::Reference => self.level(command, call),
            Command::Unit | Command::Format | Command::ByteOrder => self.show(command, call),
            Command::MarkerState | Command::MarkerPeak | Command::MarkerX | Command::MarkerY => {
                self.mark(command, call)
            }
            Command::Initiate => call.act(|| self.initiate(call.now)),
            Command::Abort => call.act(|| {
                self.abort(call.now);
                Ok(())
            }),
            Command::Continuous => {
                let current = matches!(self.work, Work::Continuous { .. });
                call.flag(current, |on| self.sweep_on(on, call.now))
            }
            Command::Trace => self.send_trace(call),
            Command::Align => call.act(|| self.align(call.now)),
            Command::Aligned => call.ask(|| self.aligned(call)),
            Command::AlignsItself => call.flag(self.aligns_itself, |on| self.aligns_itself = on),
        };
        if self.settings != before {
            self.restart(call.now);
        }
        outcome
    }

    fn frequency(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        let (low, high) = (settings.range.low().get(), settings.range.high().get());
        let tuned = |default| Bounds { low, high, default };
        match command {
            Command::Start => {
                let current = settings.start().get();
                call.numeric(Quantity::Frequency, tuned(low), current, |v| settings.set_start(v))
            }
            Command::Stop => {
                let current = settings.stop().get();
                call.numeric(Quantity::Frequency, tuned(high), current, |v| settings.set_stop(v))
            }
            Command::Span => {
                let bounds = Bounds { low: 0.0, high: high - low, default: high - low };
                let (current, mut fits) = (settings.span().get(), true);
                let set = |v| fits = settings.set_span(v);
                let reply = call.numeric(Quantity::Frequency, bounds, current, set)?;
                Ok(if fits { reply } else { Reply::Changed(ErrorCode::SETTINGS_CONFLICT) })
            }
            Command::FullSpan => call.act(|| {
                settings.set_start(low);
                settings.set_stop(high);
                Ok(())
            }),
            _ => {
                let current = settings.centre().get();
                let bounds = tuned(f64::midpoint(low, high));
                call.numeric(Quantity::Frequency, bounds, current, |v| settings.set_centre(v))
            }
        }
    }

    fn sweeping(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        let (rbw, vbw, time) = (settings.rbw().get(), settings.vbw().get(), settings.sweep_time().get());
        let stated = |stated| Coupled { stated, automatic: false };
        let coupled = |current, automatic| Coupled { stated: current, automatic };
        match command {
            Command::Bandwidth => call.numeric(Quantity::Frequency, BANDWIDTHS, rbw, |v| {
                settings.bandwidth = stated(step(v, BANDWIDTHS));
            }),
            Command::BandwidthAuto => {
                call.flag(settings.bandwidth.automatic, |on| settings.bandwidth = coupled(rbw, on))
            }
            Command::Video => call.numeric(Quantity::Frequency, VIDEO_BANDWIDTHS, vbw, |v| {
                settings.video = stated(step(v, VIDEO_BANDWIDTHS));
            }),
            Command::VideoAuto => {
                call.flag(settings.video.automatic, |on| settings.video = coupled(vbw, on))
            }
            Command::Time => call.numeric(Quantity::Time, TIMES, time, |v| settings.time = stated(v)),
            Command::TimeAuto => {
                call.flag(settings.time.automatic, |on| settings.time = coupled(time, on))
            }
            Command::Points => {
                let current = settings.points as f64;
                call.numeric(Quantity::Plain, POINTS, current, |v| settings.points = v.round() as usize)
            }
            Command::Count => {
                let current = f64::from(settings.count);
                call.numeric(Quantity::Plain, COUNTS, current, |v| settings.count = v.round() as u32)
            }
            Command::TraceMode => call.choice(&MODES, settings.mode, |mode| settings.mode = mode),
            _ => call.choice(&DETECTORS, settings.detector, |detector| settings.detector = detector),
        }
    }

    fn level(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let settings = &mut self.settings;
        let attenuation = settings.attenuation().get();
        match command {
            Command::Attenuation => call.numeric(Quantity::Ratio, ATTENUATIONS, attenuation, |v| {
                settings.attenuation = Coupled { stated: attenuator_step(v), automatic: false };
            }),
            Command::AttenuationAuto => call.flag(settings.attenuation.automatic, |automatic| {
                settings.attenuation = Coupled { stated: attenuation, automatic };
            }),
            Command::Preamplifier => call.flag(settings.preamplifier, |on| settings.preamplifier = on),
            _ => {
                let current = settings.reference.get();
                let set = |v| settings.reference = Dbm::new(v);
                call.numeric(Quantity::Level, REFERENCES, current, set)
            }
        }
    }

    fn show(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let display = &mut self.display;
        match command {
            Command::Unit => call.choice(&UNITS, display.unit, |unit| display.unit = unit),
            Command::ByteOrder => call.choice(&ORDERS, display.order, |order| display.order = order),
            _ if call.unit.query => {
                let [] = call.unit.exactly()?;
                Ok(Reply::word(match display.format {
                    Format::Ascii => "ASC,0",
                    Format::Real32 => "REAL,32",
                }))
            }
            _ => {
                let parameters = call.unit.between(1, 2)?;
                let formats = [("ASCii", Format::Ascii), ("REAL", Format::Real32)];
                let format = parameters[0].choice(&formats)?;
                let plain = Bounds { low: 0.0, high: 64.0, default: 0.0 };
                let length = parameters.get(1).map(|p| plain.value(p, Quantity::Plain)).transpose()?;
                if format == Format::Real32 && length.is_some_and(|bits| bits != 32.0) {
                    return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
                }
                display.format = format;
                Ok(Reply::Done)
            }
        }
    }

    /// The finished trace; `TRACE1` is the only one.
    fn send_trace(&mut self, call: &Call<'_>) -> Outcome<Command> {
        let [name] = call.unit.exactly()?;
        if !name.word()?.eq_ignore_ascii_case("TRACE1") {
            return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
        }
        self.catch_up(call.now);
        Ok(Reply::Answer(self.display.trace(&self.finished()?.powers)))
    }

    fn finished(&self) -> Result<&Trace, ErrorCode> {
        self.trace.as_ref().ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)
    }

    fn mark(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let centre = self.settings.centre();
        match command {
            Command::MarkerState => {
                let kept = self.marker.unwrap_or(centre);
                call.flag(self.marker.is_some(), |on| self.marker = on.then_some(kept))
            }
            Command::MarkerX => {
                let (low, high) = (self.settings.start().get(), self.settings.stop().get());
                let bounds = Bounds { low, high, default: centre.get() };
                let current = self.marker.unwrap_or(centre).get();
                let mut wanted = None;
                let reply = call.numeric(Quantity::Frequency, bounds, current, |v| wanted = Some(v))?;
                if let Some(frequency) = wanted.map(Hertz::new) {
                    let at_point = |trace: &Trace| trace.frequency(trace.nearest(frequency));
                    self.marker = Some(self.trace.as_ref().map_or(frequency, at_point));
                }
                Ok(reply)
            }
            Command::MarkerPeak => call.act(|| {
                self.catch_up(call.now);
                let trace = self.finished()?;
                self.marker = Some(trace.frequency(trace.peak()));
                Ok(())
            }),
            _ => call.ask(|| {
                let marker = self.marker.ok_or(ErrorCode::SETTINGS_CONFLICT)?;
                let trace = self.finished()?;
                Ok(Reply::Answer(self.display.one(trace.powers[trace.nearest(marker)])))
            }),
        }
    }

    /// `CALibration?` aligns and answers with 0 once it has gone well.
    fn aligned(&mut self, call: &Call<'_>) -> Outcome<Command> {
        self.align(call.now)?;
        Ok(Reply::Later(Command::AlignsWell))
    }
}
