//! The audio generator at the unit's microphone input: its output is off unless a tone is wanted, and off again after.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{AudioGeneratorCommand, AudioGeneratorProfile, Kind};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::{ReadError, Unit};
use spurline_transport::Tap;
use spurline_units::{Hertz, Volts};

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};

/// An audio generator that answers.
#[derive(Debug)]
pub struct AudioGenerator {
    opened: Opened,
    profile: AudioGeneratorProfile,
}

const RESET_WITHIN: Duration = Duration::from_secs(60);
/// For how long the link is made again to switch the output off.
const OFF_TRIED_FOR: Duration = Duration::from_secs(15);

impl AudioGenerator {
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
        let (opened, profile, used) = Opened::open_as(Role::AudioGenerator, place, clock, tap, |kind| {
            if let Kind::AudioGenerator(profile) = kind { Some(&**profile) } else { None }
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
        let reset = self.plain(AudioGeneratorCommand::Reset);
        self.opened.ask(&[reset], RESET_WITHIN).await?;
        self.try_off().await
    }

    /// Gives a tone of this frequency and level, r.m.s. It is set up with the output off, and switched on only when the
    /// generator has confirmed what it will give.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; a setting that was not taken is one.
    pub async fn give(&mut self, frequency: Hertz, level: Volts) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_give(frequency, level))
    }

    async fn try_give(&mut self, frequency: Hertz, level: Volts) -> Result<(), InstrumentFault> {
        let commands = &self.profile.commands;
        let settings = [
            self.plain(AudioGeneratorCommand::Off),
            commands.spelling(AudioGeneratorCommand::Frequency).with(frequency.get()),
            commands.spelling(AudioGeneratorCommand::Level).with(level.get()),
            self.plain(AudioGeneratorCommand::ReadBack),
        ];
        let on = [self.plain(AudioGeneratorCommand::On), self.plain(AudioGeneratorCommand::ReadBack)];
        for (spelled, output) in [(&settings[..], false), (&on[..], true)] {
            let units = self.opened.ask(spelled, Duration::ZERO).await?;
            self.opened.taken(&units, 0, "the frequency", frequency.get())?;
            self.level_taken(&units, level)?;
            self.output_taken(&units, output)?;
        }
        Ok(())
    }

    /// Levels are set in steps of their own: a level that is near enough is the one that was wanted.
    fn level_taken(&self, units: &[Unit], level: Volts) -> Result<(), InstrumentFault> {
        let found = self.opened.number(units, 1, "the level")?;
        if (found - level.get()).abs() <= level.get() * LEVEL_STEP_SHARE {
            return Ok(());
        }
        Err(self.opened.not_taken("the level", level, Volts::new(found)))
    }

    fn output_taken(&self, units: &[Unit], on: bool) -> Result<(), InstrumentFault> {
        let none = ReadError::Units { expected: 3, found: units.len() };
        let state = units.get(2).map_or(Err(none), Unit::boolean);
        let found = state.map_err(InstrumentFault::answer(Role::AudioGenerator, "output"))?;
        let word = |on| if on { "on" } else { "off" };
        if found == on { Ok(()) } else { Err(self.opened.not_taken("the output", word(on), word(found))) }
    }

    /// What it can give.
    #[must_use]
    pub fn profile(&self) -> &AudioGeneratorProfile {
        &self.profile
    }

    /// Whether the link is in order.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.opened.is_ready()
    }

    /// Makes sure that it still answers and has its settings.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if it does not.
    pub async fn check(&mut self) -> Result<(), InstrumentFault> {
        self.opened.check().await
    }

    /// Makes the link again if it was lost; the output is off then.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        if self.opened.mend(patience).await? {
            self.prepare().await?;
            self.opened.is_set_up();
        }
        Ok(())
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
        drop(self.opened.tell_anyway(&[self.plain(AudioGeneratorCommand::Off)]).await);
        self.opened.reopen(OFF_TRIED_FOR).await?;
        self.off_over_this_link().await
    }

    async fn off_over_this_link(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_off())
    }

    async fn try_off(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.plain(AudioGeneratorCommand::Off), self.plain(AudioGeneratorCommand::ReadBack)];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.output_taken(&units, false)
    }

    fn plain(&self, command: AudioGeneratorCommand) -> String {
        self.profile.commands.spelling(command).plain().to_owned()
    }
}

/// What a level that is read back may differ from what was told, as a share of it: levels have three digits at least.
const LEVEL_STEP_SHARE: f64 = 0.006;
