//! The unit's own control port: tuning and power setting, never the key.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{Kind, UnitCommand, UnitProfile};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::Unit;
use spurline_transport::Tap;
use spurline_units::Hertz;

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};

/// What tunes a unit: its control port, or whoever brought it.
#[derive(Debug)]
pub struct UnitControl {
    port: Option<Port>,
}

/// A control port that answers.
#[derive(Debug)]
struct Port {
    opened: Opened,
    profile: UnitProfile,
}

impl UnitControl {
    /// Connects and identifies.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn open(
        place: Whereabouts<'_>,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, InstrumentUsed), InstrumentFault> {
        let (opened, profile, used) = Opened::open_as(Role::UnitControl, place, clock, tap, |kind| {
            if let Kind::Unit(profile) = kind { Some(profile) } else { None }
        })
        .await?;
        Ok((Self { port: Some(Port { opened, profile }) }, used))
    }

    /// A unit that a person has tuned, and that stays as it is.
    #[must_use]
    pub fn by_hand() -> Self {
        Self { port: None }
    }

    /// Tunes the unit, sets its power, and reads both back.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn tune(&mut self, carrier: Hertz, power_setting: &str) -> Result<(), InstrumentFault> {
        let Some(port) = &mut self.port else { return Ok(()) };
        repeated!(port.opened, port.try_tune(carrier, power_setting))
    }

    /// Whether the link is in order.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.port.as_ref().is_none_or(|port| port.opened.is_ready())
    }

    /// Makes sure that the instrument still answers and has its settings.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if it does not.
    pub async fn check(&mut self) -> Result<(), InstrumentFault> {
        match &mut self.port {
            Some(port) => port.opened.check().await,
            None => Ok(()),
        }
    }

    /// Makes the link again if it was lost. The unit is tuned before every key-down anyway.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        let Some(port) = &mut self.port else { return Ok(()) };
        port.opened.mend(patience).await?;
        port.opened.is_set_up();
        Ok(())
    }
}

impl Port {
    async fn try_tune(&mut self, carrier: Hertz, power_setting: &str) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let spelled = [
            commands.spelling(UnitCommand::Frequency).with(carrier.get()),
            commands.spelling(UnitCommand::Power).with(power_setting),
            commands.spelling(UnitCommand::ReadBack).plain().to_owned(),
        ];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        let found = self.opened.number(&units, 0, "the frequency")?;
        if (found - carrier.get()).abs() > 0.5 {
            return Err(self.opened.not_taken("the frequency", carrier.get(), found));
        }
        let word = units.get(1).map_or(Ok(String::new()), Unit::string);
        let word = word.map_err(InstrumentFault::answer(self.opened.role(), "power setting"))?;
        if !word.eq_ignore_ascii_case(power_setting) {
            return Err(self.opened.not_taken("the power setting", power_setting, word));
        }
        Ok(())
    }
}
