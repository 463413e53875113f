//! The bench supply, and what it does to the unit.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{InstrumentError, Quantity, Questionable};
use spurline_units::{Amperes, Volts};

use super::call::{Bounds, Call, Outcome, Reply, Steps};
use super::device::{Conditions, Device};
use crate::bench::{Identity, SupplyTruth};
use crate::world::{Terminals, World};

/// A supply with one output.
#[derive(Debug)]
pub(crate) struct Supply {
    truth: SupplyTruth,
    world: Arc<World>,
    settings: Settings,
    /// Whether its output is on the unit's key line.
    keys: bool,
    /// Whether the current limit held when somebody looked last.
    limiting: bool,
}

/// What can be set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settings {
    voltage: f64,
    limit: f64,
    /// How far `UP` and `DOWN` go, in volts and amperes.
    voltage_step: f64,
    limit_step: f64,
    on: bool,
}

/// What the supply understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Voltage,
    VoltageStep,
    Current,
    CurrentStep,
    Output,
    Selected,
    MeasureVoltage,
    MeasureCurrent,
    MeasurePower,
}

/// As after a reset: nothing at the output, and little current allowed.
const RESET: Settings = Settings { voltage: 0.0, limit: 0.1, voltage_step: 0.1, limit_step: 0.1, on: false };
/// The finest step, in volts or amperes.
const FINEST: f64 = 0.001;
/// The coil of a small relay that keys, in ohms, and the volts at which it pulls in (common practice: a tenth of an ampere
/// at 12 V, two thirds of its voltage).
const COIL: f64 = 120.0;
const PULLS_IN: f64 = 8.0;
/// There is one output.
const OUTPUTS: Bounds = Bounds { low: 1.0, high: 1.0, default: 1.0 };

impl Supply {
    pub(crate) fn new(truth: SupplyTruth, world: Arc<World>, keys: bool) -> Self {
        Self { truth, world, settings: RESET, keys, limiting: false }
    }

    fn apply(&self, now: Moment) {
        if self.keys {
            let keyed = self.at_coil().sensed >= PULLS_IN;
            self.world.key_line(now, keyed, "the supply was told");
            return;
        }
        let voltage = if self.settings.on { self.settings.voltage } else { 0.0 };
        self.world.set_supply(now, Volts::new(voltage), Amperes::new(self.settings.limit));
    }

    /// What is there at its terminals.
    fn terminals(&self, now: Moment) -> Terminals {
        if self.keys { self.at_coil() } else { self.world.terminals(now).unwrap_or_default() }
    }

    /// The same with the coil that keys the unit behind them.
    fn at_coil(&self) -> Terminals {
        let Settings { voltage, limit, on, .. } = self.settings;
        if !on {
            return Terminals::default();
        }
        let current = (voltage / COIL).min(limit);
        Terminals { sensed: current * COIL, current, is_limiting: current < voltage / COIL, unit: 0.0 }
    }

    /// Out of bounds it stays where it is: a voltage that nobody asked for could break what hangs on it.
    fn set(&mut self, call: &Call<'_>, command: Command) -> Outcome<Command> {
        let bounds = |high, default| Bounds { low: 0.0, high, default };
        let volts = bounds(self.truth.highest_voltage.get(), RESET.voltage);
        let amperes = bounds(self.truth.highest_current.get(), RESET.limit);
        let stepping =
            |of: Bounds| Bounds { low: FINEST, high: of.high.max(FINEST), default: RESET.voltage_step };
        let Terminals { sensed: voltage, current, .. } = self.terminals(call.now);
        let s = &mut self.settings;
        match command {
            Command::Voltage => {
                let steps = Steps::of(s.voltage, s.voltage_step);
                call.strict_stepped(Quantity::Voltage, volts, s.voltage, steps, |v| s.voltage = v)
            }
            Command::VoltageStep => {
                call.strict(Quantity::Voltage, stepping(volts), s.voltage_step, |v| s.voltage_step = v)
            }
            Command::Current => {
                let steps = Steps::of(s.limit, s.limit_step);
                call.strict_stepped(Quantity::Current, amperes, s.limit, steps, |v| s.limit = v)
            }
            Command::CurrentStep => {
                call.strict(Quantity::Current, stepping(amperes), s.limit_step, |v| s.limit_step = v)
            }
            Command::Output => call.flag(s.on, |on| s.on = on),
            Command::Selected => call.strict(Quantity::Plain, OUTPUTS, 1.0, |_| ()),
            Command::MeasureVoltage => call.ask(|| Ok(millis(voltage))),
            Command::MeasureCurrent => call.ask(|| Ok(millis(current))),
            Command::MeasurePower => call.ask(|| Ok(millis(voltage * current))),
        }
    }
}

/// A reading with three digits behind the point.
fn millis(value: f64) -> Reply<Command> {
    Reply::word(&format!("{value:.3}"))
}

impl Device for Supply {
    type Command = Command;
    type Setup = Settings;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce#:]VOLTage[:LEVel][:IMMediate][:AMPLitude][?]", Command::Voltage),
            ("[SOURce#:]VOLTage[:LEVel][:IMMediate]:STEP[:INCRement][?]", Command::VoltageStep),
            ("[SOURce#:]CURRent[:LEVel][:IMMediate][:AMPLitude][?]", Command::Current),
            ("[SOURce#:]CURRent[:LEVel][:IMMediate]:STEP[:INCRement][?]", Command::CurrentStep),
            ("OUTPut#[:STATe][?]", Command::Output),
            ("INSTrument:NSELect[?]", Command::Selected),
            ("MEASure[:SCALar]:VOLTage[:DC]?", Command::MeasureVoltage),
            ("MEASure[:SCALar]:CURRent[:DC]?", Command::MeasureCurrent),
            ("MEASure[:SCALar]:POWer[:DC]?", Command::MeasurePower),
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

    fn settle(&mut self, now: Moment, _: &mut Vec<InstrumentError>) {
        self.limiting = self.terminals(now).is_limiting;
    }

    /// The voltage is not what was set while the current is limited.
    fn conditions(&self) -> Conditions {
        let questionable = if self.limiting { Questionable::VOLTAGE } else { Questionable::NONE };
        Conditions { questionable, ..Conditions::default() }
    }

    fn setup(&self, _: Moment) -> Settings {
        self.settings
    }

    /// The output goes off: nothing comes under voltage by the recall of a setting.
    fn restore(&mut self, setup: &Settings, now: Moment) {
        self.settings = Settings { on: false, ..*setup };
        self.apply(now);
    }

    fn reset(&mut self, now: Moment) {
        self.restore(&RESET, now);
    }
}
