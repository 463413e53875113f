//! The relay card that switches the path.

use spurline_clock::Clock;
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::error::InstrumentFault;
use crate::opened::Whereabouts;
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
        self.relay.open_after(Seconds::default()).await
    }

    /// Makes sure that contacts are where they were told to be.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; also when one is not.
    pub async fn confirm(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        self.relay.confirm(contacts).await
    }

    /// Brings contacts into their states (`true` is closed) and reads them back, in as few exchanges as the
    /// profile allows.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; also when a contact is not where it was told to be.
    pub async fn set(&mut self, contacts: &[(u32, bool)]) -> Result<(), InstrumentFault> {
        self.relay.set(contacts).await
    }
}
