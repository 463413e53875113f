//! What can be known beforehand of a set-up and of what is measured of a modulation.

use spurline_path::PathError;
use spurline_units::{Hertz, Seconds};

use super::Prospect;
use crate::job::Job;
use crate::measure::ModulationFact;
use crate::model::{Channel, PowerSetting};
use crate::settings::{Look, MOST_SET_UP_LOOKS, SETTLE, TONE_SETTLE, lines_of, set_up_looks, tone_look};

/// A set-up, at most.
#[derive(Clone, Debug, PartialEq)]
pub struct SetUpForecast {
    /// The tone that the carrier is measured with.
    pub tone: Hertz,
    /// How many looks it takes at most.
    pub looks: u32,
    /// How many key-downs these need.
    pub key_downs: u32,
    /// How long the key is down in all.
    pub keyed: Seconds,
    /// The longest of its key-downs.
    pub longest: Seconds,
}

/// What is measured of a modulation.
#[derive(Clone, Debug, PartialEq)]
pub struct FactForecast {
    /// What.
    pub fact: ModulationFact,
    /// The limits, for people; `None` without any.
    pub limits: Option<String>,
    /// Whether it can be decided.
    pub prospect: Prospect,
}

/// Whether the level is searched for in this channel and power setting: once a channel, in the first.
pub(crate) fn is_set_up_here(job: &Job, channel: &Channel, power: &PowerSetting) -> bool {
    job.plan.set_up.is_some() && channel.powers.first().is_some_and(|first| first.name == power.name)
}

/// The set-up of a channel.
pub(super) fn set_up(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
) -> Result<Option<SetUpForecast>, PathError> {
    let Some(set_up) = job.plan.set_up.filter(|_| is_set_up_here(job, channel, power)) else {
        return Ok(None);
    };
    let at_input = job.carrier_at_analyser(job.carrier_way(), channel, power)?;
    let looks = set_up_looks(job.bench.analyser_profile(), channel.carrier, at_input, &set_up);
    let before = Seconds::from(SETTLE);
    let longest_look = looks.iter().map(|(look, _)| of_look(look)).fold(Seconds::default(), Seconds::max);
    let room = job.plan.key.longest - before;
    let by_operator = job.bench.audio_generator().is_none();
    let in_one = if by_operator { 1.0 } else { (room / longest_look).floor().max(1.0) };
    let key_downs = (f64::from(MOST_SET_UP_LOOKS) / in_one).ceil();
    Ok(Some(SetUpForecast {
        tone: set_up.tone,
        looks: MOST_SET_UP_LOOKS,
        key_downs: key_downs as u32,
        keyed: longest_look * f64::from(MOST_SET_UP_LOOKS) + before * key_downs,
        longest: longest_look * in_one.min(f64::from(MOST_SET_UP_LOOKS)) + before,
    }))
}

/// How long a look with a new level takes.
fn of_look(look: &Look) -> Seconds {
    look.time_on_the_wire() + Seconds::from(TONE_SETTLE)
}

/// The look at the modulation, if it is measured.
pub(super) fn look(job: &Job, channel: &Channel, power: &PowerSetting) -> Result<Option<Look>, PathError> {
    let at_input = job.carrier_at_analyser(job.carrier_way(), channel, power)?;
    Ok(job.modulation_look(channel.carrier, at_input))
}

/// What is measured of it.
pub(super) fn facts(job: &Job) -> Vec<FactForecast> {
    let fact = job.plan.measure.modulation.map(|measure| {
        let show = |value: f64| match measure.fact {
            ModulationFact::Deviation => Hertz::new(value).to_string(),
            ModulationFact::Depth => format!("{} %", value * 100.0),
        };
        let least = measure.at_least.map(|least| format!("at least {}", show(least)));
        let most = measure.at_most.map(|most| format!("at most {}", show(most)));
        let limits: Vec<String> = least.into_iter().chain(most).collect();
        let prospect = if limits.is_empty() {
            Prospect::NoLimit("the plan names no limit for it".to_owned())
        } else {
            Prospect::Able
        };
        let limits = (!limits.is_empty()).then(|| limits.join(", "));
        FactForecast { fact: measure.fact, limits, prospect }
    });
    fact.into_iter().collect()
}

impl Job {
    /// The look at the lines of the modulation, if anything of it is measured.
    #[must_use]
    pub fn modulation_look(&self, carrier: Hertz, at_input: spurline_units::Dbm) -> Option<Look> {
        self.plan.measure.modulation?;
        let modulation = &self.plan.modulation;
        let tone = modulation.tone()?;
        Some(tone_look(self.bench.analyser_profile(), carrier, at_input, tone, lines_of(modulation)))
    }

    /// Whether the level of a tone is searched for in this channel and power setting: once a channel.
    #[must_use]
    pub fn is_set_up_here(&self, channel: &Channel, power: &PowerSetting) -> bool {
        is_set_up_here(self, channel, power)
    }
}
