//! A generator with one output, on or off: the signal generator with a line of known level in dBm, the audio generator
//! with a tone for the unit's microphone input in volts.

use std::fmt::Debug;
use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::Quantity;
use spurline_units::{Dbm, Hertz, Range, Volts};

use super::call::{Bounds, Call, Outcome, Steps};
use super::device::Device;
use crate::bench::{AudioGeneratorTruth, GeneratorTruth, Identity};
use crate::world::{Audio, Tone, World};

/// A generator with one output.
#[derive(Debug)]
pub(crate) struct Source<T> {
    truth: T,
    world: Arc<World>,
    settings: Settings,
}

/// One that gives a line.
pub(crate) type Generator = Source<GeneratorTruth>;
/// One that gives a tone.
pub(crate) type AudioGenerator = Source<AudioGeneratorTruth>;

/// What can be set; the level in the unit of the generator's kind.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settings {
    frequency: f64,
    level: f64,
    on: bool,
}

/// What a generator understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Frequency,
    Level,
    Output,
    /// What stays as it is: no modulation, or a sine and nothing else.
    Fixed,
}

/// The header of the level, its quantity, and the header of what stays as it is.
pub(crate) struct Manner {
    level: (&'static str, Quantity),
    fixed: &'static str,
    /// As after a reset, where the ranges allow it, and how far `UP` and `DOWN` go.
    frequency: (f64, f64),
    reset_level: (f64, f64),
}

/// What a kind of generator is told and gives.
pub(crate) trait Gives: Clone + Debug + Send + Sync + 'static {
    const MANNER: Manner;
    fn identity(&self) -> &Identity;
    fn range(&self) -> Range<Hertz>;
    /// The least and the highest level.
    fn levels(&self) -> (f64, f64);
    /// A level as it can be set.
    fn in_steps(level: f64) -> f64;
    /// What stays as it is takes its one value.
    fn stays(call: &Call<'_>) -> Outcome<Command>;
    /// Frequency and level come out, or nothing does.
    fn give(&self, world: &World, now: Moment, output: Option<(Hertz, f64)>);
}

impl Gives for GeneratorTruth {
    /// Little level, and none of it at the output.
    const MANNER: Manner = Manner {
        level: ("[SOURce#:]POWer[:LEVel][:IMMediate][:AMPLitude][?]", Quantity::Level),
        fixed: "OUTPut#:MODulation[:STATe][?]",
        frequency: (100e6, 1e6),
        reset_level: (-100.0, 1.0),
    };

    fn identity(&self) -> &Identity {
        &self.identity
    }

    fn range(&self) -> Range<Hertz> {
        self.range
    }

    fn levels(&self) -> (f64, f64) {
        (self.levels.low().get(), self.levels.high().get())
    }

    /// Levels are set in hundredths of a dB.
    fn in_steps(level: f64) -> f64 {
        (level * FINEST_LEVEL).round() / FINEST_LEVEL
    }

    fn stays(call: &Call<'_>) -> Outcome<Command> {
        call.flag(false, |_| ())
    }

    fn give(&self, world: &World, now: Moment, output: Option<(Hertz, f64)>) {
        world.set_tone(now, output.map(|(frequency, level)| Tone { frequency, level: Dbm::new(level) }));
    }
}

impl Gives for AudioGeneratorTruth {
    const MANNER: Manner = Manner {
        level: ("[SOURce#:]VOLTage[:LEVel][:IMMediate][:AMPLitude][?]", Quantity::Voltage),
        fixed: "[SOURce#:]FUNCtion[:SHAPe][?]",
        frequency: (1e3, 100.0),
        reset_level: (0.01, 1e-3),
    };

    fn identity(&self) -> &Identity {
        &self.identity
    }

    fn range(&self) -> Range<Hertz> {
        self.range
    }

    /// In volts r.m.s.
    fn levels(&self) -> (f64, f64) {
        (1e-5, 10.0)
    }

    /// Levels are set in four digits, three of them behind the first.
    fn in_steps(level: f64) -> f64 {
        format!("{level:.DIGITS$e}").parse().unwrap_or(level)
    }

    fn stays(call: &Call<'_>) -> Outcome<Command> {
        call.choice(&[("SINusoid", ())], (), |()| ())
    }

    fn give(&self, world: &World, now: Moment, output: Option<(Hertz, f64)>) {
        let error = self.level_error.amplitude_ratio();
        world.speak(
            now,
            output.map(|(frequency, level)| Audio { frequency, level: Volts::new(level * error) }),
        );
    }
}

const FINEST_LEVEL: f64 = 100.0;
const DIGITS: usize = 3;

impl<T: Gives> Source<T> {
    pub(crate) fn new(truth: T, world: Arc<World>) -> Self {
        let settings = Self::initial(&truth);
        Self { truth, world, settings }
    }

    fn initial(truth: &T) -> Settings {
        let (range, (least, most)) = (truth.range(), truth.levels());
        Settings {
            frequency: T::MANNER.frequency.0.clamp(range.low().get(), range.high().get()),
            level: T::MANNER.reset_level.0.clamp(least, most),
            on: false,
        }
    }

    fn apply(&self, now: Moment) {
        let Settings { frequency, level, on } = self.settings;
        self.truth.give(&self.world, now, on.then_some((Hertz::new(frequency), level)));
    }

    /// Out of bounds it stays where it is: a level that nobody asked for could break what hangs on it.
    fn set(&mut self, call: &Call<'_>, command: Command) -> Outcome<Command> {
        let reset = Self::initial(&self.truth);
        let bounds = |low, high, default| Bounds { low, high, default };
        let (range, (least, most)) = (self.truth.range(), self.truth.levels());
        let frequencies = bounds(range.low().get(), range.high().get(), reset.frequency);
        let levels = bounds(least, most, reset.level);
        let s = &mut self.settings;
        match command {
            Command::Frequency => {
                let steps = Steps::of(s.frequency, T::MANNER.frequency.1);
                call.strict_stepped(Quantity::Frequency, frequencies, s.frequency, steps, |v| s.frequency = v)
            }
            Command::Level => {
                let steps = Steps::of(s.level, T::MANNER.reset_level.1);
                call.strict_stepped(T::MANNER.level.1, levels, s.level, steps, |v| s.level = T::in_steps(v))
            }
            Command::Output => call.flag(s.on, |on| s.on = on),
            Command::Fixed => T::stays(call),
        }
    }
}

impl<T: Gives> Device for Source<T> {
    type Command = Command;
    type Setup = Settings;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce#:]FREQuency[:CW|FIXed][?]", Command::Frequency),
            (T::MANNER.level.0, Command::Level),
            ("OUTPut#[:STATe][?]", Command::Output),
            (T::MANNER.fixed, Command::Fixed),
        ]
    }

    fn identity(&self) -> &Identity {
        self.truth.identity()
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        let outcome = self.set(call, command);
        self.apply(call.now);
        outcome
    }

    fn setup(&self, _: Moment) -> Settings {
        self.settings
    }

    /// The output goes off: nothing comes out by the recall of a setting.
    fn restore(&mut self, setup: &Settings, now: Moment) {
        self.settings = Settings { on: false, ..*setup };
        self.apply(now);
    }

    fn reset(&mut self, now: Moment) {
        let initial = Self::initial(&self.truth);
        self.restore(&initial, now);
    }
}
