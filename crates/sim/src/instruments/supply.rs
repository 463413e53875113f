//! The bench supply, and what it does to the unit.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::Quantity;
use spurline_units::{Amperes, Volts};

use super::call::{Bounds, Call, Outcome, Reply};
use super::engine::Device;
use crate::bench::{Identity, SupplyTruth};
use crate::world::World;

/// A supply with one output.
#[derive(Debug)]
pub(crate) struct Supply {
    truth: SupplyTruth,
    world: Arc<World>,
    voltage: f64,
    limit: f64,
    on: bool,
}

/// What the supply understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Voltage,
    Current,
    Output,
    MeasureVoltage,
    MeasureCurrent,
}

/// The current limit after a reset, in amperes.
const LIMIT: f64 = 0.1;

impl Supply {
    pub(crate) fn new(truth: SupplyTruth, world: Arc<World>) -> Self {
        Self { truth, world, voltage: 0.0, limit: LIMIT, on: false }
    }

    fn apply(&self, now: Moment) {
        let voltage = if self.on { self.voltage } else { 0.0 };
        self.world.set_supply(now, Volts::new(voltage), Amperes::new(self.limit));
    }

    /// The current that flows.
    fn current(&self, now: Moment) -> f64 {
        if self.on && self.voltage > 0.0 { self.world.draw(now).get().min(self.limit) } else { 0.0 }
    }

    fn set(&mut self, call: &Call<'_>, command: Command) -> Outcome<Command> {
        let volts = Bounds { low: 0.0, high: self.truth.highest_voltage.get(), default: 0.0 };
        let amperes = Bounds { low: 0.0, high: self.truth.highest_current.get(), default: LIMIT };
        match command {
            Command::Voltage => call.numeric(Quantity::Voltage, volts, self.voltage, |v| self.voltage = v),
            Command::Current => call.numeric(Quantity::Current, amperes, self.limit, |v| self.limit = v),
            Command::Output => call.flag(self.on, |on| self.on = on),
            Command::MeasureVoltage => call.ask(|| Ok(millis(if self.on { self.voltage } else { 0.0 }))),
            Command::MeasureCurrent => call.ask(|| Ok(millis(self.current(call.now)))),
        }
    }
}

/// A reading with three digits behind the point.
fn millis(value: f64) -> Reply<Command> {
    Reply::word(&format!("{value:.3}"))
}

impl Device for Supply {
    type Command = Command;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude][?]", Command::Voltage),
            ("[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude][?]", Command::Current),
            ("OUTPut[:STATe][?]", Command::Output),
            ("MEASure[:SCALar]:VOLTage[:DC]?", Command::MeasureVoltage),
            ("MEASure[:SCALar]:CURRent[:DC]?", Command::MeasureCurrent),
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

    fn reset(&mut self, now: Moment) {
        (self.voltage, self.limit, self.on) = (0.0, LIMIT, false);
        self.apply(now);
    }
}
