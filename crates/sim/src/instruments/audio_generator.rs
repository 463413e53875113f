//! The audio generator: one tone for the unit's microphone input, on or off.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::Quantity;
use spurline_units::{Hertz, Volts};

use super::call::{Bounds, Call, Outcome, Steps};
use super::device::Device;
use crate::bench::{AudioGeneratorTruth, Identity};
use crate::world::{Audio, World};

/// A generator with one output.
#[derive(Debug)]
pub(crate) struct AudioGenerator {
    truth: AudioGeneratorTruth,
    world: Arc<World>,
    settings: Settings,
}

/// What can be set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settings {
    frequency: f64,
    level: f64,
    on: bool,
}

/// What the generator understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Frequency,
    Level,
    Output,
    /// A sine and nothing else.
    Function,
}

/// As after a reset: little level, and none of it at the output.
const FREQUENCY: f64 = 1e3;
const LEVEL: f64 = 0.01;
/// In volts r.m.s.
const LEVELS: (f64, f64) = (1e-5, 10.0);
/// How far `UP` and `DOWN` go.
const FREQUENCY_STEP: f64 = 100.0;
const LEVEL_STEP: f64 = 1e-3;
/// Levels are set in four digits, three of them behind the first.
const DIGITS: usize = 3;

impl AudioGenerator {
    pub(crate) fn new(truth: AudioGeneratorTruth, world: Arc<World>) -> Self {
        let settings = Self::initial(&truth);
        Self { truth, world, settings }
    }

    fn initial(truth: &AudioGeneratorTruth) -> Settings {
        Settings {
            frequency: FREQUENCY.clamp(truth.range.low().get(), truth.range.high().get()),
            level: LEVEL,
            on: false,
        }
    }

    fn apply(&self, now: Moment) {
        let Settings { frequency, level, on } = self.settings;
        let level = Volts::new(level * self.truth.level_error.amplitude_ratio());
        let audio = Audio { frequency: Hertz::new(frequency), level };
        self.world.speak(now, on.then_some(audio));
    }

    /// Out of bounds it stays where it is: a level that nobody asked for could break an input.
    fn set(&mut self, call: &Call<'_>, command: Command) -> Outcome<Command> {
        let reset = Self::initial(&self.truth);
        let bounds = |low, high, default| Bounds { low, high, default };
        let range = self.truth.range;
        let frequencies = bounds(range.low().get(), range.high().get(), reset.frequency);
        let levels = bounds(LEVELS.0, LEVELS.1, reset.level);
        let s = &mut self.settings;
        match command {
            Command::Frequency => {
                let steps = Steps::of(s.frequency, FREQUENCY_STEP);
                call.strict_stepped(Quantity::Frequency, frequencies, s.frequency, steps, |v| s.frequency = v)
            }
            Command::Level => {
                let steps = Steps::of(s.level, LEVEL_STEP);
                call.strict_stepped(Quantity::Voltage, levels, s.level, steps, |v| {
                    s.level = in_digits(v);
                })
            }
            Command::Output => call.flag(s.on, |on| s.on = on),
            Command::Function => call.choice(&[("SINusoid", ())], (), |()| ()),
        }
    }
}

impl Device for AudioGenerator {
    type Command = Command;
    type Setup = Settings;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce#:]FREQuency[:CW|FIXed][?]", Command::Frequency),
            ("[SOURce#:]VOLTage[:LEVel][:IMMediate][:AMPLitude][?]", Command::Level),
            ("OUTPut#[:STATe][?]", Command::Output),
            ("[SOURce#:]FUNCtion[:SHAPe][?]", Command::Function),
        ]
    }

    fn identity(&self) -> &Identity {
        &self.truth.identity
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

/// A level as it can be set.
fn in_digits(level: f64) -> f64 {
    format!("{level:.DIGITS$e}").parse().unwrap_or(level)
}
