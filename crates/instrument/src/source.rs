//! A generator with one output: the signal generator whose lines prove a bench, in dBm, and the audio generator at the
//! unit's microphone input, in volts. The output is off unless something is wanted of it, and off again after.

use std::fmt::Display;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{AudioGeneratorProfile, Commands, GeneratorProfile, Kind, SourceCommand};
use spurline_record::{InstrumentUsed, Role};
use spurline_scpi::{ReadError, Unit};
use spurline_transport::Tap;
use spurline_units::{Dbm, Hertz, Volts};

use crate::error::InstrumentFault;
use crate::opened::{Opened, Whereabouts, repeated};

/// A generator that answers.
#[derive(Debug)]
pub struct Source<P> {
    opened: Opened,
    profile: P,
}

/// A signal generator: levels are into 50 ohm.
pub type Generator = Source<GeneratorProfile>;
/// An audio generator: levels are r.m.s.
pub type AudioGenerator = Source<AudioGeneratorProfile>;

/// The profile of a generator, and what its levels are.
pub trait Gives: Clone {
    /// A level that it gives.
    type Level: Copy + Display;
    /// The part that it plays.
    const ROLE: Role;
    /// The profile, if it is of this kind.
    fn of_kind(kind: &Kind) -> Option<&Self>;
    /// Spellings.
    fn commands(&self) -> &Commands<SourceCommand>;
    /// A level as the generator is told it.
    fn number(level: Self::Level) -> f64;
    /// A level as the generator tells it.
    fn level(number: f64) -> Self::Level;
    /// Whether a level that is read back is the one that was told.
    fn is_near(found: f64, told: Self::Level) -> bool;
}

impl Gives for GeneratorProfile {
    type Level = Dbm;
    const ROLE: Role = Role::Generator;

    fn of_kind(kind: &Kind) -> Option<&Self> {
        if let Kind::Generator(profile) = kind { Some(profile) } else { None }
    }

    fn commands(&self) -> &Commands<SourceCommand> {
        &self.commands
    }

    fn number(level: Dbm) -> f64 {
        level.get()
    }

    fn level(number: f64) -> Dbm {
        Dbm::new(number)
    }

    /// A level in dB near zero has no share to be compared by.
    fn is_near(found: f64, told: Dbm) -> bool {
        (found - told.get()).abs() <= LEVEL_STEP_DB
    }
}

impl Gives for AudioGeneratorProfile {
    type Level = Volts;
    const ROLE: Role = Role::AudioGenerator;

    fn of_kind(kind: &Kind) -> Option<&Self> {
        if let Kind::AudioGenerator(profile) = kind { Some(profile) } else { None }
    }

    fn commands(&self) -> &Commands<SourceCommand> {
        &self.commands
    }

    fn number(level: Volts) -> f64 {
        level.get()
    }

    fn level(number: f64) -> Volts {
        Volts::new(number)
    }

    fn is_near(found: f64, told: Volts) -> bool {
        (found - told.get()).abs() <= told.get() * LEVEL_STEP_SHARE
    }
}

/// What a level that is read back may differ from what was told: the coarsest step of a generator in use.
const LEVEL_STEP_DB: f64 = 0.051;
/// The same of volts, as a share of them: they have three digits at least.
const LEVEL_STEP_SHARE: f64 = 0.006;
const RESET_WITHIN: Duration = Duration::from_secs(60);
/// For how long the link is made again to switch the output off.
const OFF_TRIED_FOR: Duration = Duration::from_secs(15);

impl<P: Gives> Source<P> {
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
        let (opened, profile, used) = Opened::open_as(P::ROLE, place, clock, tap, P::of_kind).await?;
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
        let reset = self.plain(SourceCommand::Reset);
        self.opened.ask(&[reset], RESET_WITHIN).await?;
        self.try_off().await
    }

    /// Gives a line or tone of this frequency and level. It is set up with the output off, and switched on only
    /// when the generator has confirmed what it will give.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; a setting that was not taken is one.
    pub async fn give(&mut self, frequency: Hertz, level: P::Level) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_give(frequency, level))
    }

    async fn try_give(&mut self, frequency: Hertz, level: P::Level) -> Result<(), InstrumentFault> {
        let commands = self.profile.commands();
        let settings = [
            self.plain(SourceCommand::Off),
            commands.spelling(SourceCommand::Frequency).with(frequency.get()),
            commands.spelling(SourceCommand::Level).with(P::number(level)),
            self.plain(SourceCommand::ReadBack),
        ];
        let on = [self.plain(SourceCommand::On), self.plain(SourceCommand::ReadBack)];
        for (spelled, output) in [(&settings[..], false), (&on[..], true)] {
            let units = self.opened.ask(spelled, Duration::ZERO).await?;
            self.opened.taken(&units, 0, "the frequency", frequency.get())?;
            self.level_taken(&units, level)?;
            self.output_taken(&units, output)?;
        }
        Ok(())
    }

    /// Levels are set in steps of their own: a level that is near enough is the one that was wanted.
    fn level_taken(&self, units: &[Unit], level: P::Level) -> Result<(), InstrumentFault> {
        let found = self.opened.number(units, 1, "the level")?;
        if P::is_near(found, level) {
            return Ok(());
        }
        Err(self.opened.not_taken("the level", level, P::level(found)))
    }

    fn output_taken(&self, units: &[Unit], on: bool) -> Result<(), InstrumentFault> {
        let none = ReadError::Units { expected: 3, found: units.len() };
        let state = units.get(2).map_or(Err(none), Unit::boolean);
        let found = state.map_err(InstrumentFault::answer(P::ROLE, "output"))?;
        let word = |on| if on { "on" } else { "off" };
        if found == on { Ok(()) } else { Err(self.opened.not_taken("the output", word(on), word(found))) }
    }

    /// What it can give.
    #[must_use]
    pub fn profile(&self) -> &P {
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
        drop(self.opened.tell_anyway(&[self.plain(SourceCommand::Off)]).await);
        self.opened.reopen(OFF_TRIED_FOR).await?;
        self.off_over_this_link().await
    }

    async fn off_over_this_link(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_off())
    }

    async fn try_off(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.plain(SourceCommand::Off), self.plain(SourceCommand::ReadBack)];
        let units = self.opened.ask(&spelled, Duration::ZERO).await?;
        self.output_taken(&units, false)
    }

    fn plain(&self, command: SourceCommand) -> String {
        self.profile.commands().spelling(command).plain().to_owned()
    }
}
