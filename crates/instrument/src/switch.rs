//! The relay card that switches the path.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::error::InstrumentFault;
use crate::opened::{Whereabouts, repeated};
use crate::relay::Relay;

/// A relay card in the path. It is never told anything while the unit is keyed: that is the caller's to see to.
#[derive(Debug)]
pub struct SwitchCard {
    relay: Relay,
}

impl SwitchCard {
    /// Connects and identifies; tells it nothing yet.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn open(
        place: Whereabouts<'_>,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, InstrumentUsed), InstrumentFault> {
        let (relay, used) = Relay::open_as(Role::Switch, place, clock, tap).await?;
        Ok((Self { relay }, used))
    }

    /// Makes sure that no contact opens by itself: the path must stay as it was set.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn prepare(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.relay.opened, self.relay.open_after(Seconds::default()))
    }

    /// Whether the link is in order.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.relay.opened.is_ready()
    }

    /// Makes sure that the instrument still answers and has its settings.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if it does not.
    pub async fn check(&mut self) -> Result<(), InstrumentFault> {
        self.relay.opened.check().await
    }

    /// Makes the link again if it was lost. The path is set before every key-down anyway.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        if self.relay.opened.mend(patience).await? {
            self.prepare().await?;
            self.relay.opened.is_set_up();
        }
        Ok(())
    }

    /// Makes sure that contacts are where they were told to be.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; also when one is not.
    pub async fn confirm(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        repeated!(self.relay.opened, self.relay.confirm(contacts))
    }

    /// Brings contacts into their states (`true` is closed) and reads them back, in as few exchanges as the
    /// profile allows.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; also when a contact is not where it was told to be.
    pub async fn set(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        repeated!(self.relay.opened, self.relay.set(contacts))
    }
}
