//! The relay, and the key line behind one of its contacts.

use std::time::Duration;

use async_trait::async_trait;
use spurline_clock::Clock;
use spurline_profile::{Kind, RelayCommand, RelayProfile};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::{ReadError, Unit};
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::error::InstrumentFault;
use crate::key::KeyLine;
use crate::opened::{Opened, Whereabouts, repeated};

/// A relay that answers.
#[derive(Debug)]
pub struct Relay {
    pub(crate) opened: Opened,
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
        Self::open_as(Role::Relay, place, clock, tap).await
    }

    pub(crate) async fn open_as(
        role: Role,
        place: Whereabouts<'_>,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, InstrumentUsed), InstrumentFault> {
        let (opened, profile, used) = Opened::open_as(role, place, clock, tap, |kind| {
            if let Kind::Relay(profile) = kind { Some(profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile }, used))
    }

    /// Has every contact that is closed from now on open by itself after `span`; never, if that is zero.
    pub(crate) async fn open_after(&mut self, span: Seconds) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let spelled = [
            commands.spelling(RelayCommand::OpensAfter).with(span.get()),
            commands.spelling(RelayCommand::ReadBack).plain().to_owned(),
        ];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.opened.taken(&units, 0, "the time after which it opens", span.get())
    }

    /// Brings contacts into their states and makes sure of it.
    pub(crate) async fn set(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let spelled: Vec<String> = self.told(contacts).chain(self.states(contacts)).collect();
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.compare(&units, contacts)
    }

    /// The same, at once or not at all.
    pub(crate) async fn set_now(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let spelled: Vec<String> = self.told(contacts).chain(self.states(contacts)).collect();
        let units = self.opened.ask_now(&spelled).await?;
        self.compare(&units, contacts)
    }

    /// Tells contacts their states, whether anybody answers or not.
    pub(crate) async fn tell_anyway(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let spelled: Vec<String> = self.told(contacts).collect();
        self.opened.tell_anyway(&spelled).await
    }

    /// Makes sure that contacts are in their states.
    pub(crate) async fn confirm(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let spelled: Vec<String> = self.states(contacts).collect();
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.compare(&units, contacts)
    }

    /// The same, at once or not at all.
    pub(crate) async fn confirm_now(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let spelled: Vec<String> = self.states(contacts).collect();
        let units = self.opened.ask_now(&spelled).await?;
        self.compare(&units, contacts)
    }

    fn told(&self, contacts: &[(u32, bool)]) -> impl Iterator<Item = String> {
        contacts.iter().map(|(contact, closed)| {
            let command = if *closed { RelayCommand::Close } else { RelayCommand::Open };
            self.profile.commands.spelling(command).with(contact)
        })
    }

    fn states(&self, contacts: &[(u32, bool)]) -> impl Iterator<Item = String> {
        contacts.iter().map(|(contact, _)| self.profile.commands.spelling(RelayCommand::State).with(contact))
    }

    /// Compares the answers to the questions for contacts with where they must be.
    fn compare(&self, units: &[Unit], contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        let role = self.opened.role();
        for (index, (contact, closed)) in contacts.iter().enumerate() {
            let none = ReadError::Units { expected: contacts.len(), found: units.len() };
            let state = units.get(index).map_or(Err(none), |unit| unit.boolean());
            let found = state.map_err(InstrumentFault::answer(role, "state"))?;
            if found != *closed {
                return Err(InstrumentFault::Contact { role, contact: *contact, closed: *closed });
            }
        }
        Ok(())
    }
}

/// The key line of a unit: one contact of a relay.
#[derive(Debug)]
pub struct RelayKey {
    relay: Relay,
    contact: u32,
    opens_by_itself: Option<Seconds>,
    /// Whether the relay has been told when to open by itself.
    armed: bool,
}

impl RelayKey {
    /// The key behind `contact`. With `opens_by_itself`, the relay is told to open that long after it was last
    /// told to close, so that the key comes up even when nobody can bring it up any more.
    #[must_use]
    pub fn new(relay: Relay, contact: u32, opens_by_itself: Option<Seconds>) -> Self {
        Self { relay, contact, opens_by_itself, armed: false }
    }
}

#[async_trait]
impl KeyLine for RelayKey {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        self.up().await?;
        if let Some(span) = self.opens_by_itself {
            repeated!(self.relay.opened, self.relay.open_after(span))?;
        }
        self.armed = true;
        Ok(())
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        if self.armed && self.relay.confirm(&[(self.contact, false)]).await.is_ok() {
            return Ok(());
        }
        self.arm().await
    }

    /// A command that keys is never repeated because its answer did not come, and never sent behind something else
    /// that takes time.
    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.relay.set_now(&[(self.contact, true)]).await.inspect_err(|_| self.armed = false)
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        // Asked first: one that has opened by itself must not be closed again.
        self.relay.confirm_now(&[(self.contact, true)]).await.inspect_err(|_| self.armed = false)?;
        self.down().await
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        let open = [(self.contact, false)];
        if !self.relay.opened.is_in_step().await {
            self.armed = false;
            // It may hear what it cannot answer any more. What this comes to shows in what follows.
            drop(self.relay.tell_anyway(&open).await);
            self.relay.opened.reopen(Duration::ZERO).await?;
        }
        self.relay.set_now(&open).await.inspect_err(|_| self.armed = false)
    }

    fn refresh_every(&self) -> Option<Duration> {
        self.opens_by_itself.map(|span| span.duration() / 3)
    }
}

#[cfg(test)]
mod tests;
