//! The relay, and the key line behind one of its contacts.

use std::time::Duration;

use async_trait::async_trait;
use spurline_clock::Clock;
use spurline_profile::{Kind, RelayCommand, RelayProfile};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::ReadError;
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::error::InstrumentFault;
use crate::key::KeyLine;
use crate::opened::{Opened, Whereabouts};

/// A relay that answers.
#[derive(Debug)]
pub struct Relay {
    opened: Opened,
    profile: RelayProfile,
}

impl Relay {
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
        let (opened, profile, used) = Opened::open_as(Role::Relay, place, clock, tap, |kind| {
            if let Kind::Relay(profile) = kind { Some(profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile }, used))
    }

    async fn switch(
        &mut self,
        command: RelayCommand,
        contact: u32,
        closed: bool,
    ) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let spelled =
            [commands.spelling(command).with(contact), commands.spelling(RelayCommand::State).with(contact)];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        let found = self.state_in(&units)?;
        if found == closed {
            Ok(())
        } else {
            let as_number = |closed| if closed { 1.0 } else { 0.0 };
            Err(InstrumentFault::NotTaken {
                role: Role::Relay,
                setting: "the contact",
                told: as_number(closed),
                found: as_number(found),
            })
        }
    }

    fn state_in(&self, units: &[spurline_scpi::Unit]) -> Result<bool, InstrumentFault> {
        let none = ReadError::Units { expected: 1, found: 0 };
        let state = units.first().map_or(Err(none), |unit| unit.boolean());
        state.map_err(InstrumentFault::answer(Role::Relay, "state"))
    }
}

/// The key line of a unit: one contact of a relay.
#[derive(Debug)]
pub struct RelayKey {
    relay: Relay,
    contact: u32,
    opens_by_itself: Option<Seconds>,
}

impl RelayKey {
    /// The key behind `contact`. With `opens_by_itself`, the relay is told to open that long after it was last
    /// told to close, so that the key comes up even when nobody can bring it up any more.
    #[must_use]
    pub fn new(relay: Relay, contact: u32, opens_by_itself: Option<Seconds>) -> Self {
        Self { relay, contact, opens_by_itself }
    }
}

#[async_trait]
impl KeyLine for RelayKey {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        self.up().await?;
        if let Some(span) = self.opens_by_itself {
            let spelled = self.relay.profile.commands.spelling(RelayCommand::OpensAfter).with(span.get());
            self.relay.opened.ask(&[spelled], Duration::ZERO).await?;
        }
        Ok(())
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.relay.switch(RelayCommand::Close, self.contact, true).await
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        self.relay.switch(RelayCommand::Open, self.contact, false).await
    }

    fn refresh_every(&self) -> Option<Duration> {
        self.opens_by_itself.map(|span| span.duration() / 3)
    }
}
