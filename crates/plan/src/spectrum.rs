//! How the carrier's own spectrum is measured: which looks are taken, for which readings, against which limits.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use std::ops::RangeInclusive;

use spurline_judge::{Distribution, HertzBudget};
use spurline_path::PathError;
use spurline_profile::AnalyserProfile;
use spurline_record::{Quantity, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz, Seconds, Watts};

use crate::budget::frequency_budget;
use crate::job::Job;
use crate::model::{Channel, Modulation, PowerSetting};
use crate::settings::{Look, Seen, noise_at_input};

/// One thing that is looked at while the unit is keyed; several readings may come of it.
#[derive(Clone, Debug, PartialEq)]
pub enum SpectrumTask {
    /// All of the emission, for its widths, its power in the channel and where it lies.
    Emission(Look),
    /// The emission against its mask.
    Mask {
        /// Through a filter that shows all of it at once: what the mask counts from.
        wide: Look,
        /// Through a narrow one, as far as the mask is looked at.
        look: Look,
    },
    /// The channels beside.
    Adjacent {
        /// The emission's own channel.
        own: Look,
        /// The lower one and the upper one.
        beside: [Look; 2],
    },
    /// Where a carrier without modulation of its frequency stands.
    Frequency {
        /// Where it is looked for.
        search: Look,
        /// How it is looked at once it was found: its centre moves there.
        zoom: Look,
    },
}

/// Which of the two channels beside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The lower one.
    Lower,
    /// The upper one.
    Upper,
}

/// A reading that comes of a task.
#[derive(Clone, Debug, PartialEq)]
pub struct AskedReading {
    /// What it is.
    pub quantity: Quantity,
    /// Which of several of its kind.
    pub name: Option<String>,
    /// At which frequency.
    pub frequency: Hertz,
}

/// What the analyser itself adds within a width beside a carrier, at its input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnNoise {
    /// Of its input.
    pub thermal: Dbm,
    /// The most of its oscillator; `None` where its profile does not say.
    pub phase: Option<Dbm>,
}

/// What a plan without a width anywhere is looked at for: a channel of land mobile radio.
const USUAL_WIDTH: f64 = 12.5e3;
/// What a carrier is looked at for whose tolerance nobody knows: that of land mobile radio (47 CFR 90.213).
const USUAL_TOLERANCE: f64 = 2.5e-6;
/// Shares of the longest key-down that one look may take.
const SHARE_OF_WIDTHS: f64 = 0.45;
const SHARE_OF_CHANNELS: f64 = 0.15;
/// So far a mask is looked at, over the width that is expected or authorised (ITU-R SM.329: the spurious domain begins
/// there).
const OUT_TO: f64 = 2.5;
/// So many places of a mask are asked for the bandwidths of their limits.
const PLACES: u32 = 200;
/// What the emission's own channel holds beyond the width that is expected.
const HOLDS: f64 = 1.5;
/// So many bandwidths of a Gaussian filter hold 99 % of a line, and of one of four synchronously tuned poles (scipy 1.17.1).
const OF_A_LINE: [f64; 2] = [2.187_7, 3.04];
/// Filters of more noise bandwidth than this are taken for the latter.
const GAUSSIAN_UP_TO: f64 = 1.09;
/// The name of the fact that authorises a width.
const AUTHORISED: &str = "authorised_bandwidth";

/// The width that holds 99 % of a line behind a filter of an analyser.
#[must_use]
pub fn width_of_a_line(profile: &AnalyserProfile, filter: Hertz) -> Hertz {
    filter * OF_A_LINE[usize::from(profile.noise.bandwidth > GAUSSIAN_UP_TO)]
}

/// What the analyser adds from one offset to another beside a carrier of `at_input`, which itself is so many hertz wide.
#[must_use]
pub fn own_noise(
    profile: &AnalyserProfile,
    attenuation: Db,
    at_input: Dbm,
    occupied: Hertz,
    offsets: RangeInclusive<Hertz>,
) -> OwnNoise {
    let (from, to) = (*offsets.start(), *offsets.end());
    let width = to - from;
    // The density is that of one hertz: the factor of the filter's noise bandwidth is not wanted.
    let thermal = noise_at_input(profile, width / profile.noise.bandwidth, attenuation);
    let nearest = if from.get() * to.get() <= 0.0 { 0.0 } else { from.get().abs().min(to.get().abs()) };
    // A modulated carrier stands nearer with its outermost lines, and brings the noise of all of it there at most.
    let nearest = Hertz::new(nearest) - occupied / 2.0;
    let phase = profile.phase_noise.as_ref().filter(|_| nearest.get() > 0.0);
    let phase = phase.and_then(|noise| noise.within(nearest, nearest + width));
    OwnNoise { thermal, phase: phase.map(|share| at_input + share) }
}

/// The part of a width's budget that is known before anything is measured: what filter and points make of it.
#[must_use]
pub fn width_figures(profile: &AnalyserProfile, look: &Look) -> HertzBudget {
    let settings = &look.settings;
    HertzBudget::default()
        .with(
            "filter: a line at the edge is as wide as it",
            width_of_a_line(profile, settings.rbw),
            Distribution::Rectangular,
            "the look's RBW",
        )
        .with(
            "points: an edge lies between two",
            settings.spacing(),
            Distribution::Rectangular,
            "the look's points",
        )
}

/// That of a frequency of a carrier; `None` where nobody states how good the analyser's frequencies are. `resolution` is
/// what a frequency is told apart by.
#[must_use]
pub fn frequency_figures(
    profile: &AnalyserProfile,
    carrier: Hertz,
    resolution: Hertz,
) -> Option<HertzBudget> {
    let budget = frequency_budget(profile, carrier)?;
    let source = "the look's points, or the counter's last digit";
    Some(budget.with("resolution", resolution / 2.0, Distribution::Rectangular, source))
}

impl OwnNoise {
    /// All of it in watts, if that is known.
    #[must_use]
    pub fn total(&self) -> Option<Watts> {
        self.phase.map(|phase| self.thermal.to_watts() + phase.to_watts())
    }
}

impl Side {
    /// The name of its reading.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Lower => "lower adjacent channel",
            Self::Upper => "upper adjacent channel",
        }
    }

    /// Where a channel stands on this side.
    #[must_use]
    pub fn offset(self, spacing: Hertz) -> Hertz {
        match self {
            Self::Lower => spacing * -1.0,
            Self::Upper => spacing,
        }
    }

    /// Both.
    pub const BOTH: [Self; 2] = [Self::Lower, Self::Upper];
}

impl SpectrumTask {
    /// What it is, for people.
    #[must_use]
    pub const fn what(&self) -> &'static str {
        match self {
            Self::Emission(_) => "the emission's width",
            Self::Mask { .. } => "the emission's mask",
            Self::Adjacent { .. } => "the adjacent channels",
            Self::Frequency { .. } => "the carrier's frequency",
        }
    }

    /// Its looks.
    #[must_use]
    pub fn looks(&self) -> Vec<&Look> {
        match self {
            Self::Emission(look) => vec![look],
            Self::Mask { wide, look } => vec![wide, look],
            Self::Adjacent { own, beside } => vec![own, &beside[0], &beside[1]],
            Self::Frequency { search, zoom } => vec![search, zoom],
        }
    }

    /// How long it takes.
    #[must_use]
    pub fn time(&self) -> Seconds {
        self.looks().into_iter().fold(Seconds::default(), |sum, look| sum + look.time_on_the_wire())
    }
}

impl Job {
    /// What is looked at of the carrier's own spectrum, in the order in which it is done.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn spectrum_tasks(
        &self,
        channel: &Channel,
        power: &PowerSetting,
    ) -> Result<Vec<SpectrumTask>, PathError> {
        let asked = &self.plan.measure.spectrum;
        let mut tasks = Vec::new();
        if asked.is_empty() {
            return Ok(tasks);
        }
        let seen = Seen {
            profile: self.bench.analyser_profile(),
            carrier: channel.carrier,
            at_input: self.carrier_at_analyser(self.carrier_way(), channel, power)?,
            modulation: &self.plan.modulation,
            expected: self.expected_width(),
            most: self.plan.key.longest * SHARE_OF_WIDTHS,
        };
        let by_its_middle = asked.frequency.is_some() && self.by_its_middle();
        let widths = asked.occupied.is_some() || asked.x_db.is_some() || asked.band.is_some();
        if widths || asked.channel.is_some() || by_its_middle {
            tasks.push(SpectrumTask::Emission(seen.emission(asked.channel.unwrap_or_default())));
        }
        if asked.frequency.is_some() && !by_its_middle {
            let powers = [power.window.low().watts(), power.window.high().watts()];
            let tightest =
                self.tolerance(channel.carrier, &powers).and_then(|asked| asked.possible.first().copied());
            let [search, zoom] = seen.frequency(tightest.unwrap_or(channel.carrier * USUAL_TOLERANCE));
            tasks.push(SpectrumTask::Frequency { search, zoom });
        }
        if asked.mask.is_some() {
            let look = seen.mask(self.mask_out_to(), self.narrowest_of_mask(channel, power));
            tasks.push(SpectrumTask::Mask { wide: seen.wide(), look });
        }
        if let Some(adjacent) = &asked.adjacent {
            let seen = Seen { most: self.plan.key.longest * SHARE_OF_CHANNELS, ..seen };
            let filter = seen.channel_filter(adjacent.width);
            let own = seen.channel(Hertz::new(0.0), self.own_width(), filter);
            let beside =
                Side::BOTH.map(|side| seen.channel(side.offset(adjacent.spacing), adjacent.width, filter));
            tasks.push(SpectrumTask::Adjacent { own, beside });
        }
        Ok(tasks)
    }

    /// The readings that come of a task, in their order.
    #[must_use]
    pub fn asked_of(&self, task: &SpectrumTask, channel: &Channel) -> Vec<AskedReading> {
        let asked = &self.plan.measure.spectrum;
        let at = |quantity, name: Option<&str>, frequency| AskedReading {
            quantity,
            name: name.map(str::to_owned),
            frequency,
        };
        let carrier = channel.carrier;
        match task {
            SpectrumTask::Emission(_) => [
                (asked.occupied.is_some(), Quantity::OccupiedBandwidth),
                (asked.x_db.is_some(), Quantity::XdbBandwidth),
                (asked.channel.is_some(), Quantity::ChannelPower),
                (asked.frequency.is_some() && self.by_its_middle(), Quantity::FrequencyError),
                (asked.band.is_some(), Quantity::Band),
            ]
            .into_iter()
            .filter(|(wanted, _)| *wanted)
            .map(|(_, quantity)| at(quantity, None, carrier))
            .collect(),
            SpectrumTask::Mask { .. } => vec![at(Quantity::EmissionMask, None, carrier)],
            SpectrumTask::Adjacent { .. } => {
                let spacing = asked.adjacent.as_ref().map_or(Hertz::new(0.0), |adjacent| adjacent.spacing);
                let reading = |side: Side| {
                    let place = carrier + side.offset(spacing);
                    at(Quantity::AdjacentChannelPower, Some(side.name()), place)
                };
                Side::BOTH.map(reading).to_vec()
            }
            SpectrumTask::Frequency { .. } => vec![at(Quantity::FrequencyError, None, carrier)],
        }
    }

    /// The most that the occupied bandwidth may be, and where that stands.
    #[must_use]
    pub fn occupied_limit(&self) -> Option<(Hertz, String)> {
        let file = self.document.source.name();
        let asked = self.plan.measure.spectrum.occupied.as_ref()?;
        let stated = asked.at_most.map(|most| (most, format!("{file}: measure.occupied_bandwidth.at_most")));
        stated.or_else(|| self.authorised().map(|width| (width, format!("{file}: facts.{AUTHORISED}"))))
    }

    /// The width that is authorised, if anything is told of it.
    fn authorised(&self) -> Option<Hertz> {
        let told = |facts: &spurline_limits::Facts| {
            let found = facts.iter().find(|(name, _)| *name == AUTHORISED);
            found.and_then(|(_, width)| width.parse().ok())
        };
        told(&self.facts).or_else(|| told(self.mask_rule().1))
    }

    /// How wide the emission will be about; without modulation what it is meant to fill.
    #[must_use]
    pub fn expected_width(&self) -> Hertz {
        let by_modulation = self.plan.modulation.occupied(1);
        if by_modulation.get() > 0.0 {
            return by_modulation;
        }
        let asked = &self.plan.measure.spectrum;
        let stated = [
            asked.occupied.as_ref().and_then(|asked| asked.at_most),
            self.authorised(),
            asked.x_db.as_ref().and_then(|asked| asked.at_most),
            asked.adjacent.as_ref().map(|asked| asked.width),
            asked.channel,
        ];
        stated.into_iter().flatten().next().unwrap_or(Hertz::new(USUAL_WIDTH))
    }

    /// The width over which the power of the emission's own channel is added up.
    #[must_use]
    pub fn own_width(&self) -> Hertz {
        let channel = self.plan.measure.spectrum.adjacent.as_ref().map(|asked| asked.width);
        (self.expected_width() * HOLDS).max(channel.unwrap_or_default())
    }

    /// How far from the carrier a mask is looked at.
    #[must_use]
    pub fn mask_out_to(&self) -> Hertz {
        let stated = self.plan.measure.spectrum.mask.as_ref().and_then(|mask| mask.out_to);
        stated.unwrap_or_else(|| self.expected_width().max(self.authorised().unwrap_or_default()) * OUT_TO)
    }

    /// The narrowest bandwidth that the mask's limits are meant in.
    fn narrowest_of_mask(&self, channel: &Channel, power: &PowerSetting) -> Option<Hertz> {
        let (rule, facts) = self.mask_rule();
        let out_to = self.mask_out_to();
        let bandwidth = |place: u32| {
            let offset = out_to * (f64::from(place) / f64::from(PLACES));
            let question =
                spurline_limits::Question::new(channel.carrier, power.window.high().watts()).ok()?;
            let finding = rule.limit(&question.at(channel.carrier + offset), facts);
            finding.branches().iter().filter_map(|branch| branch.reference_bandwidth).reduce(Hertz::min)
        };
        (1..=PLACES).filter_map(bandwidth).reduce(Hertz::min)
    }

    /// Whether the carrier's place is the middle of its lines, none of which need stand there.
    #[must_use]
    pub fn by_its_middle(&self) -> bool {
        matches!(self.plan.modulation, Modulation::Tone { .. })
    }

    /// Why a reading of the spectrum says nothing with the modulation of the plan, if that is so.
    #[must_use]
    pub fn spectrum_without_sense(&self, quantity: Quantity) -> Option<Reason> {
        match (&self.plan.modulation, quantity) {
            (Modulation::None, Quantity::FrequencyError | Quantity::ChannelPower) => None,
            (Modulation::None, _) => Some(Reason::new(
                ReasonCode::NoModulation,
                "nothing modulates the carrier: a silent carrier always looks narrow. Say what it carries under `modulation`, \
                 and switch it on",
            )),
            (Modulation::Tone { .. } | Modulation::Am { .. } | Modulation::Burst { .. }, _) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_places_of_the_sides() {
        let spacing = Hertz::new(12.5e3);
        assert_eq!(Side::BOTH.map(|side| side.offset(spacing).get()), [-12.5e3, 12.5e3]);
        assert_eq!(Side::Upper.name(), "upper adjacent channel");
    }
}
