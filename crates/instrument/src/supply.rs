//! The bench supply that feeds the unit, or whose output is its key. It is never reset.

mod key;

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{Kind, Spelling, SupplyCommand, SupplyProfile};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use spurline_units::{Amperes, Volts};

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};
pub(crate) use key::SupplyKey;

/// For how long the link is made again to switch the output off.
const OFF_TRIED_FOR: Duration = Duration::from_secs(15);

/// A supply that answers.
#[derive(Debug)]
pub struct Supply {
    opened: Opened,
    profile: SupplyProfile,
    /// What it was told to feed last.
    feeding: Option<(Volts, Amperes)>,
}

impl Supply {
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
        let (opened, profile, used) = Opened::open_as(Role::Supply, place, clock, tap, |kind| {
            if let Kind::Supply(profile) = kind { Some(profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile, feeding: None }, used))
    }

    /// Sets voltage and current limit, and switches the output on.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn feed(&mut self, voltage: Volts, limit: Amperes) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let spelled = [
            commands.spelling(SupplyCommand::Current).with(limit.get()),
            commands.spelling(SupplyCommand::Voltage).with(voltage.get()),
            commands.spelling(SupplyCommand::ReadBack).plain().to_owned(),
        ];
        let on = commands.spelling(SupplyCommand::On).plain().to_owned();
        repeated!(self.opened, self.try_feed(&spelled, voltage, limit, &on))?;
        self.feeding = Some((voltage, limit));
        Ok(())
    }

    /// The output goes on only when the supply has confirmed what it will give.
    async fn try_feed(
        &mut self,
        spelled: &[String],
        voltage: Volts,
        limit: Amperes,
        on: &str,
    ) -> Result<(), InstrumentFault> {
        let units = self.opened.ask(spelled, Duration::ZERO).await?;
        self.opened.taken(&units, 0, "the voltage", voltage.get())?;
        self.opened.taken(&units, 1, "the current limit", limit.get())?;
        self.opened.ask(&[on.to_owned()], Duration::ZERO).await.map(drop)
    }

    /// Whether it was told to feed something since it was last told to stop.
    #[must_use]
    pub fn is_feeding(&self) -> bool {
        self.feeding.is_some()
    }

    /// Whether the link is in order.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.opened.is_ready()
    }

    /// Makes sure that the instrument still answers and has its settings.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if it does not.
    pub async fn check(&mut self) -> Result<(), InstrumentFault> {
        self.opened.check().await
    }

    /// Makes the link again if it was lost, and feeds the unit again as it was last told to. Nothing is reset.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        if self.opened.mend(patience).await? {
            if let Some((voltage, limit)) = self.feeding {
                self.feed(voltage, limit).await?;
            }
            self.opened.is_set_up();
        }
        Ok(())
    }

    /// Switches the output off.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn off(&mut self) -> Result<(), InstrumentFault> {
        let off = self.profile.commands.spelling(SupplyCommand::Off).clone();
        self.feeding = None;
        match self.try_off(&off).await {
            // Between feeding and this nobody speaks to the supply: a link that has died meanwhile shows only now.
            Err(fault) if fault.is_of_the_link() => {
                self.opened.reopen(OFF_TRIED_FOR).await?;
                self.try_off(&off).await
            }
            other => other,
        }
    }

    async fn try_off(&mut self, off: &Spelling) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.opened.plain(off, Duration::ZERO)).map(drop)
    }

    /// Voltage and current as the supply measures them.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn measured(&mut self) -> Result<(Volts, Amperes), InstrumentFault> {
        let measured = self.profile.commands.spelling(SupplyCommand::Measured).clone();
        let units = self.opened.plain(&measured, Duration::ZERO).await?;
        let voltage = self.opened.number(&units, 0, "the voltage")?;
        let current = self.opened.number(&units, 1, "the current")?;
        Ok((Volts::new(voltage), Amperes::new(current)))
    }
}
