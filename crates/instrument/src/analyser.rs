//! The spectrum analyser: absolute settings, read back; single sweeps; raw traces.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{AnalyserCommand, AnalyserProfile, Kind};
use spurline_record::{
    Acquisition, AnalyserSettings, Detector, InstrumentUsed, Preamplifier, Role, Sweep, SweepFlags,
};
use spurline_scpi::{ByteOrder, Unit};
use spurline_transport::Tap;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::error::{InstrumentFault, LEVELS};
use crate::opened::{Opened, Whereabouts, repeated};

/// A spectrum analyser that answers.
#[derive(Debug)]
pub struct Analyser {
    opened: Opened,
    profile: AnalyserProfile,
    clock: Clock,
}

/// What one message of sweeps brings.
struct Gathered {
    sweeps: Vec<Sweep>,
    flags: SweepFlags,
    marker: (Hertz, Dbm),
}

const RESET_WITHIN: Duration = Duration::from_secs(60);
const ALIGN_WITHIN: Duration = Duration::from_secs(60);
/// A frequency is taken to the hertz, more or less.
const SAME_FREQUENCY: f64 = 1e-8;
/// What a read-back may differ from what was told, as a share: display digits, not another setting.
const SAME: f64 = 1e-4;
/// Bandwidths come in steps: what the instrument chose counts, as long as it is about what was told.
const SAME_BANDWIDTH: f64 = 0.2;

impl Analyser {
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
        let (opened, profile, used) = Opened::open_as(Role::Analyser, place, clock, tap, |kind| {
            if let Kind::Analyser(profile) = kind { Some(&**profile) } else { None }
        })
        .await?;
        Ok((Self { opened, profile, clock }, used))
    }

    /// Puts the analyser into a known state: reset, single sweeps, no alignment of its own accord.
    ///
    /// A reset restores automatic attenuation, so the caller has made sure that the key is up.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn prepare(&mut self) -> Result<(), InstrumentFault> {
        repeated!(self.opened, self.try_prepare())
    }

    async fn try_prepare(&mut self) -> Result<(), InstrumentFault> {
        let reset = self.spell(AnalyserCommand::Reset).clone();
        self.opened.plain(&reset, RESET_WITHIN).await?;
        let settings = [
            AnalyserCommand::Single,
            AnalyserCommand::AlignmentOff,
            AnalyserCommand::PreamplifierOff,
            AnalyserCommand::TraceFormat,
        ];
        let spelled = settings.map(|command| self.spell(command).plain().to_owned());
        self.opened.ask(&spelled, Duration::ZERO).await?;
        Ok(())
    }

    /// Aligns the analyser; only while the key is up.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn align(&mut self) -> Result<(), InstrumentFault> {
        let spelled = [self.spell(AnalyserCommand::Align).plain().to_owned(), "*WAI".to_owned()];
        repeated!(self.opened, self.opened.ask(&spelled, ALIGN_WITHIN)).map(drop)
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

    /// Makes the link again if it was lost, and puts the analyser into its known state again if that may be gone.
    ///
    /// The caller has made sure that the key is up.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`], if the link does not come back for `patience`.
    pub async fn mend(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        if self.opened.mend(patience).await? {
            self.prepare().await?;
            self.align().await?;
            self.opened.is_set_up();
        }
        Ok(())
    }

    /// Sets everything, reads it back, sweeps `sweeps` times and fetches every trace: two round trips. All of it is
    /// done again when the exchange was disturbed.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`]; a setting that was not taken is one.
    pub async fn acquire(
        &mut self,
        purpose: &str,
        keyed: bool,
        asked: &AnalyserSettings,
        sweeps: u32,
    ) -> Result<Acquisition, InstrumentFault> {
        repeated!(self.opened, self.try_acquire(purpose, keyed, asked, sweeps))
    }

    /// The same, with the frequency counter on the highest line of the last sweep where the analyser has one: the marker's
    /// frequency is then what it counted, else that of a point.
    ///
    /// # Errors
    ///
    /// [`InstrumentFault`].
    pub async fn acquire_counted(
        &mut self,
        purpose: &str,
        keyed: bool,
        asked: &AnalyserSettings,
        sweeps: u32,
    ) -> Result<Acquisition, InstrumentFault> {
        repeated!(self.opened, self.try_acquire_with(purpose, keyed, asked, sweeps, true))
    }

    async fn try_acquire(
        &mut self,
        purpose: &str,
        keyed: bool,
        asked: &AnalyserSettings,
        sweeps: u32,
    ) -> Result<Acquisition, InstrumentFault> {
        self.try_acquire_with(purpose, keyed, asked, sweeps, false).await
    }

    async fn try_acquire_with(
        &mut self,
        purpose: &str,
        keyed: bool,
        asked: &AnalyserSettings,
        sweeps: u32,
        counted: bool,
    ) -> Result<Acquisition, InstrumentFault> {
        let at = self.clock.timestamp();
        let units = self.opened.ask(&self.spell_settings(asked), Duration::ZERO).await?;
        let settings = self.confirmed(asked, &units)?;
        let work = settings.sweep_time.duration() * sweeps;
        let mut spelled = self.spell_sweeps(sweeps);
        let counter = self.profile.commands.has(AnalyserCommand::Counter).filter(|_| counted);
        spelled.extend(counter.map(|counter| counter.plain().to_owned()));
        let has_counted = counter.is_some();
        let units = self.opened.ask(&spelled, work * 2).await?;
        let mut gathered = self.gathered(&settings, sweeps, &units)?;
        if has_counted {
            let counted = self.opened.number(&units, sweeps as usize * 2 + 2, "the counted frequency")?;
            gathered.marker.0 = Hertz::new(counted);
        }
        Ok(Acquisition {
            purpose: purpose.to_owned(),
            at,
            keyed,
            settings,
            sweeps: gathered.sweeps,
            marker: Some(gathered.marker),
            flags: gathered.flags,
        })
    }

    fn spell(&self, command: AnalyserCommand) -> &spurline_profile::Spelling {
        self.profile.commands.spelling(command)
    }

    /// Absolute settings, coupled ones after those that they are coupled to, then the questions.
    fn spell_settings(&self, asked: &AnalyserSettings) -> Vec<String> {
        use AnalyserCommand as C;
        let detector = match asked.detector {
            Detector::Peak => &self.profile.detectors[0],
            Detector::Rms => &self.profile.detectors[1],
            Detector::Sample => &self.profile.detectors[2],
        };
        vec![
            self.spell(C::Attenuation).with(asked.attenuation.get()),
            self.spell(C::ReferenceLevel).with(asked.reference_level.get()),
            self.spell(C::Centre).with(asked.centre.get()),
            self.spell(C::Span).with(asked.span.get()),
            self.spell(C::Rbw).with(asked.rbw.get()),
            self.spell(C::Vbw).with(asked.vbw.get()),
            self.spell(C::Points).with(asked.points),
            self.spell(C::Detector).with(detector),
            self.spell(C::SweepTime).with(asked.sweep_time.get()),
            self.spell(C::ReadBack).plain().to_owned(),
        ]
    }

    fn spell_sweeps(&self, sweeps: u32) -> Vec<String> {
        use AnalyserCommand as C;
        let one = [C::Sweep, C::Wait, C::Trace, C::Condition].map(|c| self.spell(c).plain().to_owned());
        let mut spelled: Vec<String> = (0..sweeps).flat_map(|_| one.clone()).collect();
        spelled.extend([C::MarkerToPeak, C::Marker].map(|c| self.spell(c).plain().to_owned()));
        spelled
    }

    /// The settings as the instrument has them; one that is not what was told is a fault.
    fn confirmed(
        &self,
        asked: &AnalyserSettings,
        units: &[Unit],
    ) -> Result<AnalyserSettings, InstrumentFault> {
        let told = [
            ("the centre frequency", asked.centre.get(), SAME_FREQUENCY),
            ("the span", asked.span.get(), SAME),
            ("the RBW", asked.rbw.get(), SAME_BANDWIDTH),
            ("the VBW", asked.vbw.get(), SAME_BANDWIDTH),
            ("the number of points", f64::from(asked.points), 0.0),
            ("the sweep time", asked.sweep_time.get(), SAME_BANDWIDTH),
            ("the attenuation", asked.attenuation.get(), 0.0),
            ("the reference level", asked.reference_level.get(), SAME),
        ];
        let mut found = [0.0; 8];
        for (at, (setting, told, tolerance)) in told.into_iter().enumerate() {
            found[at] = self.opened.number(units, at, setting)?;
            if (found[at] - told).abs() > tolerance * told.abs() + 1e-9 {
                return Err(self.opened.not_taken(setting, told, found[at]));
            }
        }
        Ok(AnalyserSettings {
            centre: Hertz::new(found[0]),
            span: Hertz::new(found[1]),
            rbw: Hertz::new(found[2]),
            vbw: Hertz::new(found[3]),
            points: asked.points,
            sweep_time: Seconds::new(found[5]),
            detector: asked.detector,
            attenuation: Db::new(found[6]),
            preamplifier: Preamplifier::Off,
            reference_level: Dbm::new(found[7]),
        })
    }

    fn gathered(
        &self,
        settings: &AnalyserSettings,
        sweeps: u32,
        units: &[Unit],
    ) -> Result<Gathered, InstrumentFault> {
        let (traces, marker) = units.split_at((sweeps as usize * 2).min(units.len()));
        let mut flags = SweepFlags::default();
        let mut gathered = Vec::with_capacity(sweeps as usize);
        for pair in traces.chunks_exact(2) {
            let levels = pair[0]
                .f32_block(ByteOrder::Big)
                .map_err(InstrumentFault::answer(Role::Analyser, "trace"))?;
            if levels.len() != settings.points as usize {
                return Err(InstrumentFault::Points { asked: settings.points, found: levels.len() });
            }
            if levels.iter().any(|level| !level.is_finite()) {
                return Err(InstrumentFault::NotANumber {
                    role: Role::Analyser,
                    what: "a point of the trace",
                });
            }
            if let Some(found) = levels.iter().find(|level| !LEVELS.contains(level)) {
                return Err(InstrumentFault::Level { found: *found });
            }
            let condition = self.opened.number(pair, 1, "the condition")? as u32;
            flags.overload |= condition & self.profile.status.overload_bits != 0;
            flags.uncalibrated |= condition & self.profile.status.uncalibrated_bits != 0;
            gathered.push(Sweep { levels });
        }
        let frequency = self.opened.number(marker, 0, "the marker's frequency")?;
        let level = self.opened.number(marker, 1, "the marker's level")?;
        Ok(Gathered { sweeps: gathered, flags, marker: (Hertz::new(frequency), Dbm::new(level)) })
    }
}
