//! The signal generator whose lines prove a bench: its output is off unless a line is wanted, and off again after.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{GeneratorCommand, GeneratorProfile, Kind};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::{ReadError, Unit};
use spurline_transport::Tap;
use spurline_units::{Dbm, Hertz};

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};

/// A signal generator that answers.
#[derive(Debug)]
pub struct Generator {
    opened: Opened,
    profile: GeneratorProfile,
}

const RESET_WITHIN: Duration = Duration::from_secs(60);
/// For how long the link is made again to switch the output off.
const OFF_TRIED_FOR: Duration = Duration::from_secs(15);

impl Generator {
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
        let (opened, profile, used) = Opened::open_as(Role::Generator, place, clock, tap, |kind| {
            if let Kind::Generator(profile) = kind { Some(&**profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile }, used))
    }

    /// Output off first, then a known state, and the output confirmed to be off still.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn prepare(&mut self) -> Result<(), InstrumentFault> {
        self.off().await?;
        repeated!(self.opened, self.try_prepare())
    }

    async fn try_prepare(&mut self) -> Result<(), InstrumentFault> {
        let reset = self.plain(GeneratorCommand::Reset);
        self.opened.ask(&[reset], RESET_WITHIN).await?;
        self.try_off().await
    }

    /// Gives a line of this frequency and level into 50 ohm. It is set up with the output off, and switched on only
    /// when the generator has confirmed what it will give.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; a setting that was not taken is one.
    pub async fn give(&mut self, frequency: Hertz, level: Dbm) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_give(frequency, level))
    }

    async fn try_give(&mut self, frequency: Hertz, level: Dbm) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let settings = [
            self.plain(GeneratorCommand::Off),
            commands.spelling(GeneratorCommand::Frequency).with(frequency.get()),
            commands.spelling(GeneratorCommand::Level).with(level.get()),
            self.plain(GeneratorCommand::ReadBack),
        ];
        let on = [self.plain(GeneratorCommand::On), self.plain(GeneratorCommand::ReadBack)];
        for (spelled, output) in [(&settings[..], false), (&on[..], true)] {
            let units = self.opened.ask(spelled, Duration::ZERO).await?;
            self.opened.taken(&units, 0, "the frequency", frequency.get())?;
            self.level_taken(&units, level)?;
            self.output_taken(&units, output)?;
        }
        Ok(())
    }

    /// Levels are set in steps of their own; a level in dB near zero has no share to be compared by.
    fn level_taken(&self, units: &[Unit], level: Dbm) -> Result<(), InstrumentFault> {
        let found = self.opened.number(units, 1, "the level")?;
        if (found - level.get()).abs() <= LEVEL_STEP_DB {
            return Ok(());
        }
        Err(self.opened.not_taken("the level", level, Dbm::new(found)))
    }

    fn output_taken(&self, units: &[Unit], on: bool) -> Result<(), InstrumentFault> {
        let none = ReadError::Units { expected: 3, found: units.len() };
        let state = units.get(2).map_or(Err(none), Unit::boolean);
        let found = state.map_err(InstrumentFault::answer(Role::Generator, "output"))?;
        let word = |on| if on { "on" } else { "off" };
        if found == on { Ok(()) } else { Err(self.opened.not_taken("the output", word(on), word(found))) }
    }

    /// Switches the output off and sees that it is.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn off(&mut self) -> Result<(), InstrumentFault> {
        if self.opened.is_in_step().await {
            match self.off_over_this_link().await {
                Err(fault) if fault.is_of_the_link() => {}
                other => return other,
            }
        }
        // What cannot answer may still hear. What this comes to shows in what follows.
        drop(self.opened.tell_anyway(&[self.plain(GeneratorCommand::Off)]).await);
        self.opened.reopen(OFF_TRIED_FOR).await?;
        self.off_over_this_link().await
    }

    async fn off_over_this_link(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_off())
    }

    async fn try_off(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.plain(GeneratorCommand::Off), self.plain(GeneratorCommand::ReadBack)];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.output_taken(&units, false)
    }

    fn plain(&self, command: GeneratorCommand) -> String {
        self.profile.commands.spelling(command).plain().to_owned()
    }
}

/// What a level that is read back may differ from what was told: the coarsest step of a generator in use.
const LEVEL_STEP_DB: f64 = 0.051;
