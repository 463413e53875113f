//! The unit under test: what leaves its connector in each state.

use std::f64::consts::FRAC_PI_2;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use num_complex::Complex64;
use spurline_units::{Db, Hertz, Watts};

use super::log::{Laws, Worn};
use super::microphone::{Audio, Microphone, Voice};
use super::spectrum::{Side, sides};
use crate::bench::{Inhibited, ModulationTruth, Oscillator, OscillatorPlace, Place, SpurPlace, UnitTruth};
use crate::draw::Seed;
use crate::physics::envelope::Envelope;
use crate::physics::line::{Line, Oscillation};
use crate::physics::reflection::Reflection;

/// A unit with its truth and its output's match.
#[derive(Debug)]
pub(crate) struct Unit {
    pub(crate) truth: UnitTruth,
    match_at_carrier: Reflection,
    match_elsewhere: Reflection,
    microphone: Option<Microphone>,
    /// What modulation makes of a line, by its frequency as a multiple of the carrier's and by what is spoken.
    spectra: Mutex<Vec<Spectrum>>,
}

/// What modulation makes of a line.
#[derive(Debug)]
struct Spectrum {
    scale: f64,
    voice: Option<Voice>,
    sides: Arc<[Side]>,
}

/// How the unit is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Setting {
    pub(crate) carrier: Hertz,
    /// Place of the power setting in the unit's list.
    pub(crate) power: usize,
    /// The last carrier that was in no inhibited range.
    pub(super) allowed: Hertz,
}

/// What leaves the unit's connector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Emission {
    pub(crate) setting: Setting,
    doing: Doing,
    /// Share of full power, from 0 right after key down to 1; less when the unit is warm or its battery empty.
    pub(crate) share: f64,
    /// Full power at this supply, over that of the setting.
    drive: f64,
    /// What is spoken into the microphone makes of it.
    voice: Option<Voice>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    Transmits,
    Receives,
}

/// One line as it leaves the connector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ray {
    pub(super) frequency: Hertz,
    pub(super) power: Watts,
    /// Which oscillation it belongs to: the order of a harmonic, or a number above all orders.
    pub(super) group: u32,
    /// The same for those who do not know the unit.
    pub(super) of: Oscillation,
    /// Which of the lines of that oscillation it is.
    pub(super) place: usize,
    /// Whether it is near the carrier, where the output is matched.
    pub(super) is_near_carrier: bool,
}

/// Groups of lines that are no harmonics count from here.
const SPURS: u32 = 1000;
/// Spectra that are remembered: a tone at the microphone may have any level.
const MOST_SPECTRA: usize = 256;
/// Levels go in steps of this many decibels, so that a unit that warms up does not emit something new at every moment.
const STEP: f64 = 0.01;

impl Emission {
    /// A unit that transmits a share of what the supply makes of its setting's power, which is `drive` times that.
    pub(super) fn transmitting(setting: Setting, drive: f64, share: f64) -> Self {
        Self { setting, doing: Doing::Transmits, share, drive, voice: None }
    }

    pub(super) fn receiving(setting: Setting) -> Self {
        Self { setting, doing: Doing::Receives, share: 1.0, drive: 1.0, voice: None }
    }

    pub(super) fn is_transmitting(&self) -> bool {
        self.doing == Doing::Transmits
    }

    /// The same emission while something is spoken into the microphone.
    pub(super) fn speaking(self, voice: Option<Voice>) -> Self {
        Self { voice, ..self }
    }

    /// What is spoken.
    pub(crate) fn voice(&self) -> Option<Voice> {
        self.voice
    }

    /// The same emission with so many times the power.
    pub(super) fn times(self, factor: f64) -> Self {
        Self { share: self.share * factor, ..self }
    }

    /// The same emission once the power has risen to its full value.
    pub(crate) fn at_full_power(self) -> Self {
        Self { share: 1.0, ..self }
    }
}

impl Unit {
    pub(crate) fn new(truth: UnitTruth, seed: Seed) -> Self {
        let serial = &truth.identity.serial;
        let match_at_carrier = Reflection::draw(seed, &format!("unit {serial} carrier"), truth.vswr);
        let match_elsewhere =
            Reflection::draw(seed, &format!("unit {serial} elsewhere"), truth.vswr_off_carrier);
        let microphone = truth.microphone.as_ref().map(|truth| Microphone::new(truth, seed, serial));
        Self { truth, match_at_carrier, match_elsewhere, microphone, spectra: Mutex::default() }
    }

    /// As it comes up when it is switched on.
    pub(crate) fn initial_setting(&self) -> Setting {
        let carrier = self.truth.tuned_to.unwrap_or(self.truth.range.low());
        Setting { carrier, power: 0, allowed: carrier }
    }

    /// The setting once it is tuned elsewhere.
    pub(super) fn tuned(&self, from: Setting, carrier: Hertz) -> Setting {
        let allowed = if self.inhibited(carrier).is_none() { carrier } else { from.allowed };
        Setting { carrier, allowed, ..from }
    }

    /// The mean power of a setting.
    pub(crate) fn power(&self, setting: usize) -> Watts {
        self.truth.powers[setting].1.watts()
    }

    /// The highest power of all settings.
    pub(crate) fn highest_power(&self) -> Watts {
        (0..self.truth.powers.len()).map(|i| self.power(i)).fold(self.power(0), Watts::max)
    }

    /// The power of a setting over the highest.
    pub(super) fn load(&self, setting: Setting) -> f64 {
        self.power(setting.power) / self.highest_power()
    }

    /// What it does where it must not transmit; nothing where it may.
    fn inhibited(&self, carrier: Hertz) -> Option<Inhibited> {
        let inhibit = self.truth.inhibited.iter().find(|inhibit| inhibit.range.contains(carrier))?;
        Some(inhibit.does)
    }

    /// Whether anything comes when it is keyed.
    pub(super) fn may_transmit(&self, setting: Setting) -> bool {
        self.inhibited(setting.carrier) != Some(Inhibited::Silent)
    }

    /// The setting by which it transmits: that of somewhere else, if that is where it comes.
    pub(super) fn transmits_by(&self, setting: Setting) -> Setting {
        match self.inhibited(setting.carrier) {
            Some(Inhibited::ComesAt(Place::At(carrier))) => Setting { carrier, ..setting },
            Some(Inhibited::ComesAt(Place::Last)) => Setting { carrier: setting.allowed, ..setting },
            Some(Inhibited::Silent | Inhibited::LetsThrough(_)) | None => setting,
        }
    }

    /// How much of its power an inhibit lets through where it is tuned to.
    pub(super) fn let_through(&self, setting: Setting) -> f64 {
        match self.inhibited(setting.carrier) {
            Some(Inhibited::LetsThrough(less)) => (-less).power_ratio(),
            Some(Inhibited::Silent | Inhibited::ComesAt(_)) | None => 1.0,
        }
    }

    /// What ends its transmissions and how it warms up.
    pub(super) fn laws(&self) -> Laws {
        let behaviour = &self.truth.behaviour;
        Laws {
            time_out: behaviour.time_out.map(|time| time.get()),
            dies_after: behaviour.dies_after.map(|time| time.get()),
            // What is within 1 % after the stated time has gone through ln 100 time constants.
            warms_in: behaviour.droop.map_or(1.0, |droop| droop.within.get() / 100f64.ln()),
        }
    }

    /// The share of full power some time after key down; `None` in the gap between two bursts.
    pub(super) fn share(&self, since: Duration, worn: Worn, on_battery: bool) -> Option<f64> {
        let keyed = since.as_secs_f64();
        let up = match self.truth.modulation.burst {
            None => keyed,
            Some(burst) => {
                let into = keyed % burst.period.get();
                if into >= burst.on.get() {
                    return None;
                }
                into
            }
        };
        let rise = self.truth.rise.get();
        let part = if rise > 0.0 { (up / rise).min(1.0) } else { 1.0 };
        Some((FRAC_PI_2 * part).sin().powi(2) * (-self.loss(keyed, worn, on_battery)).power_ratio())
    }

    /// How its power goes up and down from key down on, if its voltage is modulated.
    pub(super) fn envelope(&self, voice: Option<Voice>) -> Option<Envelope> {
        let ModulationTruth { am, hum, .. } = self.truth.modulation;
        let voltage = [am, hum, voice.and_then(Voice::depth)].into_iter().flatten();
        Envelope::new(voltage.map(|depth| (depth.depth, depth.tone)))
    }

    /// What a tone at the microphone input makes of the carrier.
    pub(super) fn voice(&self, audio: Option<Audio>) -> Option<Voice> {
        self.microphone.as_ref()?.voice(audio?)
    }

    /// What it has lost by key-down time.
    fn loss(&self, keyed: f64, worn: Worn, on_battery: bool) -> Db {
        let behaviour = &self.truth.behaviour;
        let droop = behaviour.droop.map_or(Db::new(0.0), |droop| droop.by * worn.unit);
        let sag = if on_battery { behaviour.sags * (worn.keyed / 60.0) } else { Db::new(0.0) };
        let step = behaviour.steps_down.filter(|step| keyed >= step.after.get());
        let step = step.map_or(Db::new(0.0), |step| step.by);
        let steps = ((droop + sag).get() / STEP).round();
        Db::new(steps * STEP) + step
    }

    /// The moment of the next burst after `since` plus `span`, from `since` on.
    pub(super) fn next_burst(&self, span: Duration) -> Option<Duration> {
        let period = self.truth.modulation.burst?.period.get();
        let periods = (span.as_secs_f64() / period).floor() + 1.0;
        Some(Duration::from_secs_f64(periods * period))
    }

    /// What it leaves of its power when the load reflects: no more comes back than at the ratio where it begins.
    pub(super) fn folded(&self, reflection: f64) -> f64 {
        let Some(ratio) = self.truth.behaviour.folds_back_beyond else { return 1.0 };
        let bearable = (ratio - 1.0) / (ratio + 1.0);
        if reflection > bearable { (bearable / reflection).powi(2) } else { 1.0 }
    }

    /// The harmonics at a setting, each as its order and how far it is below the carrier.
    pub(super) fn harmonics(&self, setting: Setting) -> Vec<(u32, Db)> {
        self.truth.harmonics(setting.carrier, &self.truth.powers[setting.power].0)
    }

    /// The lines at the connector into a matched load, with these harmonics.
    pub(super) fn rays(&self, emission: Emission, harmonics: &[(u32, Db)]) -> Vec<Ray> {
        let carrier = emission.setting.carrier;
        if emission.doing == Doing::Receives {
            return self.oscillators(carrier);
        }
        let carrier = carrier + self.truth.off_channel;
        let full = self.power(emission.setting.power) * (emission.drive * emission.share);
        let mut rays = Vec::new();
        let voice = emission.voice;
        self.spread(&mut rays, (1, voice), carrier, full, Some(1.0), true);
        for (order, below) in harmonics {
            let power = full * (-*below).power_ratio();
            let scale = Some(f64::from(*order));
            self.spread(&mut rays, (*order, voice), carrier.harmonic(*order), power, scale, false);
        }
        for (group, spur) in (SPURS..).step_by(2).zip(&self.truth.spurs) {
            let power = full * (-spur.below).power_ratio();
            match spur.place {
                SpurPlace::Fixed(at) => self.spread(&mut rays, (group, voice), at, power, None, false),
                SpurPlace::Share(share) => {
                    self.spread(&mut rays, (group, voice), carrier * share, power, Some(share), false);
                }
                SpurPlace::Offset(offset) => {
                    self.spread(&mut rays, (group, voice), carrier + offset, power, Some(1.0), true);
                    self.spread(&mut rays, (group + 1, voice), carrier - offset, power, Some(1.0), true);
                }
            }
        }
        rays
    }

    fn oscillators(&self, carrier: Hertz) -> Vec<Ray> {
        let oscillators = (SPURS..).zip(&self.truth.receiver);
        let ray = |(group, oscillator): (u32, &Oscillator)| {
            let frequency = match oscillator.place {
                OscillatorPlace::Fixed(at) => at,
                OscillatorPlace::Offset(hertz) => carrier + Hertz::new(hertz),
            };
            let line = Line::bare(frequency, oscillator.level.to_watts());
            Ray { frequency, power: line.power, group, of: line.of, place: 0, is_near_carrier: false }
        };
        oscillators.map(ray).filter(|ray| ray.frequency.get() > 0.0).collect()
    }

    /// Adds one oscillation: a single line, or what modulation makes of it at `scale` times the carrier's frequency.
    fn spread(
        &self,
        rays: &mut Vec<Ray>,
        (group, voice): (u32, Option<Voice>),
        at: Hertz,
        power: Watts,
        scale: Option<f64>,
        is_near_carrier: bool,
    ) {
        let single = Arc::from([Side { offset: 0.0, share: 1.0 }]);
        let sides = scale.map_or(single, |scale| self.spectrum(voice, scale));
        let of = Oscillation { centre: at, swings: scale };
        for (place, side) in sides.iter().enumerate() {
            let frequency = at + Hertz::new(side.offset);
            if frequency.get() > 0.0 {
                rays.push(Ray { frequency, power: power * side.share, group, of, place, is_near_carrier });
            }
        }
    }

    /// What modulation makes of an oscillation at `scale` times the carrier's frequency.
    pub(super) fn spectrum(&self, voice: Option<Voice>, scale: f64) -> Arc<[Side]> {
        let mut known = self.spectra.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |known: &&Spectrum| known.scale == scale && known.voice == voice;
        if let Some(known) = known.iter().find(same) {
            return known.sides.clone();
        }
        let sides: Arc<[Side]> = sides(&self.truth, voice, scale).into();
        if known.len() >= MOST_SPECTRA {
            known.clear();
        }
        known.push(Spectrum { scale, voice, sides: sides.clone() });
        sides
    }

    /// The reflection that looks out of the connector.
    pub(super) fn source(&self, ray: &Ray) -> Complex64 {
        let there = if ray.is_near_carrier { &self.match_at_carrier } else { &self.match_elsewhere };
        there.at(ray.frequency)
    }
}
