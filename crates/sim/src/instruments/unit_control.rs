//! The remote control of the unit under test: frequency, power setting, identity.

use std::sync::Arc;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, Parameter, Quantity};
use spurline_units::Hertz;

use super::call::{Bounds, Call, Outcome, Reply};
use super::device::Device;
use crate::bench::Identity;
use crate::world::{Setting, World};

/// The unit's own control port.
#[derive(Debug)]
pub(crate) struct UnitControl {
    world: Arc<World>,
}

/// What the unit understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Frequency,
    Power,
}

impl UnitControl {
    pub(crate) fn new(world: Arc<World>) -> Self {
        Self { world }
    }

    /// Outside its range the unit stays where it is: a transmitter must not go where it was not sent.
    fn frequency(&self, call: &Call<'_>) -> Outcome<Command> {
        let range = self.world.unit().truth.range;
        let bounds = Bounds { low: range.low().get(), high: range.high().get(), default: range.low().get() };
        let current = self.world.setting(call.now).carrier.get();
        call.strict(Quantity::Frequency, bounds, current, |wanted| {
            if wanted != current {
                self.world.tune(call.now, Hertz::new(wanted));
            }
        })
    }

    fn power(&self, call: &Call<'_>) -> Outcome<Command> {
        let powers = &self.world.unit().truth.powers;
        if call.unit.query {
            let [] = call.unit.exactly()?;
            return Ok(Reply::word(&powers[self.world.setting(call.now).power].0.to_ascii_uppercase()));
        }
        let [parameter] = call.unit.exactly()?;
        let name = match parameter {
            Parameter::Word(name) | Parameter::String(name) => name,
            Parameter::Number { .. } | Parameter::Block(_) | Parameter::Channels(_) => {
                return Err(ErrorCode::DATA_TYPE_ERROR);
            }
        };
        let place = powers.iter().position(|(known, _)| known.eq_ignore_ascii_case(name));
        let place = place.ok_or(ErrorCode::ILLEGAL_PARAMETER_VALUE)?;
        self.world.choose_power(call.now, place);
        Ok(Reply::Done)
    }
}

impl Device for UnitControl {
    type Command = Command;
    type Setup = Setting;

    fn headers() -> Vec<(&'static str, Command)> {
        vec![
            ("[SOURce:]FREQuency[:CW][?]", Command::Frequency),
            ("[SOURce:]POWer[:LEVel][?]", Command::Power),
        ]
    }

    fn identity(&self) -> &Identity {
        &self.world.unit().truth.identity
    }

    fn run(&mut self, command: Command, call: &Call<'_>) -> Outcome<Command> {
        match command {
            Command::Frequency => self.frequency(call),
            Command::Power => self.power(call),
        }
    }

    fn setup(&self, now: Moment) -> Setting {
        self.world.setting(now)
    }

    fn restore(&mut self, setting: &Setting, now: Moment) {
        self.world.tune(now, setting.carrier);
        self.world.choose_power(now, setting.power);
    }

    fn reset(&mut self, now: Moment) {
        self.restore(&self.world.unit().initial_setting(), now);
    }
}
