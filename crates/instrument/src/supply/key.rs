//! The key line of a unit that the output of a supply feeds: on is down.

use std::time::Duration;

use async_trait::async_trait;
use spurline_profile::SupplyCommand;
use spurline_scpi::{ReadError, Unit};
use spurline_units::{Amperes, Volts};

use super::Supply;
use crate::error::InstrumentFault;
use crate::key::KeyLine;
use crate::opened::repeated;

/// How often the output is asked for while the key is down.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// The key behind a supply's output.
#[derive(Debug)]
pub(crate) struct SupplyKey {
    supply: Supply,
    set: Volts,
    limit: Amperes,
    /// Whether the supply has been told what to give, and has confirmed it.
    armed: bool,
}

impl SupplyKey {
    pub(crate) fn new(supply: Supply, set: Volts, limit: Amperes) -> Self {
        Self { supply, set, limit, armed: false }
    }

    fn plain(&self, command: SupplyCommand) -> String {
        self.supply.profile.commands.spelling(command).plain().to_owned()
    }

    /// Compares the answer to the question for the output with how it must be.
    fn is(&self, units: &[Unit], on: bool) -> Result<(), InstrumentFault> {
        let opened = &self.supply.opened;
        let none = ReadError::Units { expected: 1, found: units.len() };
        let state = units.first().map_or(Err(none), Unit::boolean);
        let found = state.map_err(InstrumentFault::answer(opened.role(), "output"))?;
        let word = |on| if on { "on" } else { "off" };
        if found == on { Ok(()) } else { Err(opened.not_taken("the output", word(on), word(found))) }
    }

    /// Switches the output and asks whether it is so, at once or not at all.
    async fn switch(&mut self, on: bool) -> Result<(), InstrumentFault> {
        let told = self.plain(if on { SupplyCommand::On } else { SupplyCommand::Off });
        let spelled = [told, self.plain(SupplyCommand::Output)];
        let units = self.supply.opened.ask_now(&spelled).await;
        units.and_then(|units| self.is(&units, on)).inspect_err(|_| self.armed = false)
    }

    /// That the output is off and gives what it was told to once it is on; nothing is told.
    async fn stands(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.plain(SupplyCommand::Output), self.plain(SupplyCommand::ReadBack)];
        let units = self.supply.opened.ask(&spelled, Duration::ZERO).await?;
        self.is(&units, false)?;
        self.gives(units.get(1..).unwrap_or_default())
    }

    fn gives(&self, units: &[Unit]) -> Result<(), InstrumentFault> {
        let opened = &self.supply.opened;
        opened.taken(units, 0, "the voltage", self.set.get())?;
        opened.taken(units, 1, "the current limit", self.limit.get())
    }

    async fn tell(&mut self) -> Result<(), InstrumentFault> {
        let commands = &self.supply.profile.commands;
        let spelled = [
            commands.spelling(SupplyCommand::Current).with(self.limit.get()),
            commands.spelling(SupplyCommand::Voltage).with(self.set.get()),
            commands.spelling(SupplyCommand::ReadBack).plain().to_owned(),
        ];
        let units = self.supply.opened.ask(&spelled, Duration::ZERO).await?;
        self.gives(&units)
    }
}

#[async_trait]
impl KeyLine for SupplyKey {
    /// Off and confirmed comes first: before that nothing else is told.
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        self.up().await?;
        repeated!(self.supply.opened, self.tell())?;
        self.armed = true;
        Ok(())
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        if self.armed && self.stands().await.is_ok() {
            return Ok(());
        }
        self.arm().await
    }

    /// Never repeated because its answer did not come, and never sent behind something else that takes time.
    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.switch(true).await
    }

    /// Asked, not told: an output that somebody switched off must not come on again.
    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.plain(SupplyCommand::Output)];
        let units = self.supply.opened.ask_now(&spelled).await;
        units.and_then(|units| self.is(&units, true)).inspect_err(|_| self.armed = false)
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        if !self.supply.opened.is_in_step().await {
            self.armed = false;
            let off = [self.plain(SupplyCommand::Off)];
            // It may hear what it cannot answer any more. What this comes to shows in what follows.
            drop(self.supply.opened.tell_anyway(&off).await);
            self.supply.opened.reopen(Duration::ZERO).await?;
        }
        self.switch(false).await
    }

    /// It stays as it is until it is told; but it may trip.
    fn refresh_every(&self) -> Option<Duration> {
        Some(LOOK_EVERY)
    }
}
