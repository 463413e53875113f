//! The signal generator: one line of known level, on or off.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::Quantity;
use spurline_units::{Dbm, Hertz};

use super::call::{Bounds, Call, Outcome, Steps};
use super::device::Device;
use crate::bench::{GeneratorTruth, Identity};
use crate::world::{Tone, World};

/// A generator with one output.
#[derive(Debug)]
pub(crate) struct Generator {
    truth: GeneratorTruth,
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
    /// There is no modulation: it is off, and can be switched off.
    Modulation,
}

/// As after a reset, where the ranges allow it: little level, and none of it at the output.
const FREQUENCY: f64 = 100e6;
const LEVEL: f64 = -100.0;
/// How far `UP` and `DOWN` go.
const FREQUENCY_STEP: f64 = 1e6;
const LEVEL_STEP: f64 = 1.0;
/// Levels are set in hundredths of a dB.
const FINEST_LEVEL: f64 = 100.0;

impl Generator {
    pub(crate) fn new(truth: GeneratorTruth, world: Arc<World>) -> Self {
        let settings = Self::initial(&truth);
        Self { truth, world, settings }
    }

    fn initial(truth: &GeneratorTruth) -> Settings {
        Settings {
            frequency: FREQUENCY.clamp(truth.range.low().get(), truth.range.high().get()),
            level: LEVEL.clamp(truth.levels.low().get(), truth.levels.high().get()),
            on: false,
        }
    }

    fn apply(&self, now: Moment) {
        let Settings { frequency, level, on } = self.settings;
        let tone = Tone { frequency: Hertz::new(frequency), level: Dbm::new(level) };
        self.world.set_tone(now, on.then_some(tone));
    }

    /// Out of bounds it stays where it is: a level that nobody asked for could break what hangs on it.
    fn set(&mut self, call: &Call<'_>, command: Command) -> Outcome<Command> {
        let reset = Self::initial(&self.truth);
        let bounds = |low, high, default| Bounds { low, high, default };
        let range = self.truth.range;
        let frequencies = bounds(range.low().get(), range.high().get(), reset.frequency);
        let levels = bounds(self.truth.levels.low().get(), self.truth.levels.high().get(), reset.level);
        let s = &mut self.settings;
        match command {
            Command::Frequency => {
                let steps = Steps::of(s.frequency, FREQUENCY_STEP);
                call.strict_stepped(Quantity::Frequency, frequencies, s.frequency, steps, |v| s.frequency = v)
            }
            Command::Level => {
                let steps = Steps::of(s.level, LEVEL_STEP);
                call.strict_stepped(Quantity::Level, levels, s.level, steps, |v| {
                    s.level = (v * FINEST_LEVEL).round() / FINEST_LEVEL;
                })
            }
            Command::Output => call.flag(s.on, |on| s.on = on),
            Command::Modulation => call.flag(false, |_| ()),
        }
    }
}

impl Device for Generator {
    type Command = Command;
    type Setup = Settings;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce#:]FREQuency[:CW|FIXed][?]", Command::Frequency),
            ("[SOURce#:]POWer[:LEVel][:IMMediate][:AMPLitude][?]", Command::Level),
            ("OUTPut#[:STATe][?]", Command::Output),
            ("OUTPut#:MODulation[:STATe][?]", Command::Modulation),
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
