//! The RF power meter: told the frequency before every reading, zeroed only without power.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{Kind, MeterCommand, MeterProfile};
use spurline_record::{InstrumentUsed, MeterReading, Role};
use spurline_scpi::{Number, Unit};
use spurline_transport::Tap;
use spurline_units::{Dbm, Hertz};

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};

/// A power meter that answers.
#[derive(Debug)]
pub struct PowerMeter {
    opened: Opened,
    profile: MeterProfile,
    clock: Clock,
}

const RESET_WITHIN: Duration = Duration::from_secs(60);
const ZERO_WITHIN: Duration = Duration::from_secs(60);
/// Readings are taken with the key down, so that a meter that has died must not be waited for long.
const READ_WITHIN: Duration = Duration::from_secs(3);
const AVERAGES: u32 = 4;
const SENSIBLE_DBM: f64 = 300.0;

impl PowerMeter {
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
        let (opened, profile, used) = Opened::open_as(Role::PowerMeter, place, clock, tap, |kind| {
            if let Kind::PowerMeter(profile) = kind { Some(&**profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile, clock }, used))
    }

    /// Puts the meter into a known state.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn prepare(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_prepare())
    }

    async fn try_prepare(&mut self) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let reset = commands.spelling(MeterCommand::Reset).clone();
        let settings = [
            commands.spelling(MeterCommand::UnitDbm).plain().to_owned(),
            commands.spelling(MeterCommand::Averages).with(AVERAGES),
            commands.spelling(MeterCommand::ReadBack).plain().to_owned(),
        ];
        self.opened.plain(&reset, RESET_WITHIN).await?;
        let units = self.opened.ask(&settings, Duration::ZERO).await?;
        self.opened.taken(&units, 1, "the number of averaged readings", f64::from(AVERAGES))
    }

    /// Zeroes the meter. The caller has made sure that the key is up: a zero taken with power is a wrong one.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn zero(&mut self) -> Result<(), InstrumentFault> {
        let zero = self.profile.commands.spelling(MeterCommand::Zero).plain().to_owned();
        let spelled = [zero, "*OPC?".to_owned()];
        repeated!(self.opened, self.opened.ask(&spelled, ZERO_WITHIN)).map(drop)
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

    /// Makes the link again if it was lost, and sets the meter up and zeroes it again if that may be gone.
    ///
    /// The caller has made sure that the key is up.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        if self.opened.mend(patience).await? {
            self.prepare().await?;
            self.zero().await?;
            self.opened.is_set_up();
        }
        Ok(())
    }

    /// A reading whose calibration factor and averaging are those that were wanted.
    async fn try_read(&mut self, spelled: &[String], frequency: Hertz) -> Result<Vec<Unit>, InstrumentFault> {
        let units = self.opened.ask(spelled, READ_WITHIN).await?;
        self.opened.taken(&units, 0, "the frequency", frequency.get())?;
        self.opened.taken(&units, 1, "the number of averaged readings", f64::from(AVERAGES))?;
        Ok(units)
    }

    /// One reading at a frequency; `None` if the meter has no number for it, as with no power at the sensor.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn read(&mut self, frequency: Hertz) -> Result<Option<MeterReading>, InstrumentFault> {
        let commands = &self.profile.commands;
        let spelled = [
            commands.spelling(MeterCommand::Frequency).with(frequency.get()),
            commands.spelling(MeterCommand::ReadBack).plain().to_owned(),
            commands.spelling(MeterCommand::Read).plain().to_owned(),
        ];
        let units = repeated!(self.opened, self.try_read(&spelled, frequency))?;
        let unit =
            units.get(2).ok_or(InstrumentFault::NotANumber { role: Role::PowerMeter, what: "the power" })?;
        match unit.number().map_err(InstrumentFault::answer(Role::PowerMeter, "power"))? {
            // No power at all is minus infinity in dBm; some meters say so with a level that no sensor can have, some
            // that there is no number.
            Number::NegativeOverflow | Number::NotANumber => Ok(None),
            Number::Finite(level) if level < -SENSIBLE_DBM => Ok(None),
            Number::Finite(level) if level <= SENSIBLE_DBM => {
                Ok(Some(MeterReading { at: self.clock.timestamp(), frequency, level: Dbm::new(level) }))
            }
            // Over range is power, and more than can be told.
            Number::Finite(_) | Number::Overflow => {
                Err(InstrumentFault::OverRange { role: Role::PowerMeter })
            }
        }
    }
}
