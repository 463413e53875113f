//! Where the unit must not transmit, whatever it is told.

use spurline_document::Span;
use spurline_judge::COVERAGE;
use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz, Range, Seconds};

use super::Ceiling;
use crate::budget::analyser_budget;
use crate::job::Job;
use crate::model::PowerSetting;
use crate::settings::{
    Look, SETTLE, bandwidths, least_attenuation, noise_at_input, peak_height, steps, wide_looks,
};
use crate::way::Way;

/// Frequencies at which the unit must be silent, as a plan says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Silence {
    /// The frequencies, each with its place in the plan.
    pub frequencies: Vec<(Hertz, Span)>,
    /// What counts as silent.
    pub ceiling: Ceiling,
    /// The power setting that the unit is told, if it is not the first of the plan.
    pub power: Option<(String, Span)>,
    /// How long the unit is keyed at each.
    pub key_for: Seconds,
    /// The bands that are looked through; empty for one band around all channels and the frequency.
    pub bands: Vec<(Range<Hertz>, Span)>,
}

/// How silence is looked for at one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct SilenceApproach {
    /// The bands.
    pub bands: Vec<Range<Hertz>>,
    /// Looks with as much attenuation as the strongest carrier of the plan needs.
    pub coarse: Vec<Look>,
    /// Looks whose floor lies below what is let pass, once no such carrier is there.
    pub deep: Vec<Look>,
    /// How often the unit is keyed for them.
    pub key_downs: usize,
    /// How long each time.
    pub keyed: Seconds,
    /// What each takes beside the deep looks.
    pub fixed: Seconds,
    /// The highest that noise will show, at the connector, where the path loses most; `None` where there is no limit.
    pub floor: Option<Dbm>,
    /// The strictest of what is let pass.
    pub ceiling: Option<Dbm>,
    /// Whether that floor lets silence be shown.
    pub enough: bool,
}

/// A band that nobody named reaches as far as this beyond all channels and the frequency.
const AROUND: f64 = 0.1;
/// And at least this share of a frequency to its sides is looked at, whatever bands are named.
const BESIDE: f64 = 0.01;
/// What is looked for with the attenuator in is no weaker than this over the noise.
const COARSE_RBW: Hertz = Hertz::new(300e3);
/// Of each band, so many sweeps while the key is down.
const SWEEPS: u32 = 2;
/// What destroys an input holds with as much attenuation or more.
const GUARDED: Db = Db::new(10.0);
/// The highest noise is to stay so far below the limit.
const ROOM: Db = Db::new(6.0);
/// Places of a range at which the path is asked.
const PLACES: u32 = 33;
/// More key-downs at one frequency than this nobody waits for.
const MOST_DOWNS: f64 = 20.0;
/// Looks that take longer must be needed.
const COMFORT: Seconds = Seconds::new(300.0);
/// Round trips of a key-down.
const EXTRA: f64 = 0.5;

impl Silence {
    /// What counts as silent where nobody says anything: 0.25 uW, the limit of spurious emissions of low power devices
    /// below 1 GHz in ITU-R SM.329 (common practice).
    pub(crate) const THRESHOLD: Dbm = Dbm::new(-36.0);
    /// How long the unit is keyed where nobody says anything.
    pub(crate) const KEY_FOR: Seconds = Seconds::new(2.0);
    /// A key-down that is shorter leaves no time for a look.
    pub(crate) const SHORTEST: Seconds = Seconds::new(1.0);
}

impl SilenceApproach {
    /// How long it takes to look for a carrier once.
    #[must_use]
    pub fn coarse_time(&self) -> Seconds {
        time_of(&self.coarse)
    }
}

fn time_of(looks: &[Look]) -> Seconds {
    looks.iter().fold(Seconds::new(0.0), |sum, look| sum + look.time_on_the_wire())
}

impl Job {
    /// The power setting that the unit is told where it must be silent, with the widest window that it may have.
    #[must_use]
    pub fn silence_power(&self) -> Option<PowerSetting> {
        let silence = self.plan.silence.as_ref()?;
        let all = || self.plan.channels.iter().flat_map(|channel| &channel.powers);
        let name = match &silence.power {
            Some((name, _)) => name.clone(),
            None => all().next()?.name.clone(),
        };
        let highest = all()
            .map(|power| power.window)
            .reduce(|one, other| if other.high().watts() > one.high().watts() { other } else { one })?;
        Some(PowerSetting { name, window: highest })
    }

    /// How silence is looked for at one frequency.
    ///
    /// # Errors
    ///
    /// If the path does not cover a band.
    pub fn silence_approach(&self, frequency: Hertz) -> Result<SilenceApproach, PathError> {
        let (Some(silence), Some(power)) = (&self.plan.silence, self.silence_power()) else {
            return Ok(SilenceApproach {
                bands: Vec::new(),
                coarse: Vec::new(),
                deep: Vec::new(),
                key_downs: 0,
                keyed: Seconds::new(0.0),
                fixed: Seconds::new(0.0),
                floor: None,
                ceiling: None,
                enough: true,
            });
        };
        let way = self.carrier_way();
        let profile = self.bench.analyser_profile();
        let bands = self.silent_bands(silence, frequency);
        let (mut coarse, mut deep) = (Vec::new(), Vec::new());
        let (mut floor, mut least): (Option<Dbm>, Option<Dbm>) = (None, None);
        let mut enough = true;
        for band in &bands {
            let strongest = self.strongest_at_input(way, *band, &power)?;
            let attenuation = least_attenuation(profile, strongest);
            let rbw = COARSE_RBW.min(profile.ranges.rbw.high());
            coarse.extend(wide_looks(profile, *band, rbw, attenuation, strongest, 1));
            let allowed =
                self.allowed_at_input(way, &silence.ceiling, (frequency, power.window.high()), *band)?;
            let watts = power.window.high().watts();
            let strictest = silence.ceiling.least(frequency, watts, *band);
            least = least.into_iter().chain(strictest).reduce(Dbm::min);
            let attenuation =
                steps(profile).find(|step| *step >= GUARDED).unwrap_or(profile.ranges.attenuation.high());
            let together = silence.key_for * MOST_DOWNS / bands.len() as f64;
            let chosen = deep_looks(self, *band, attenuation, allowed, SWEEPS, (silence.key_for, together));
            enough &= chosen.enough;
            let loss = self.most_loss(way, *band)?;
            let here = chosen.height + loss;
            floor = Some(floor.map_or(here, |known: Dbm| known.max(here)));
            deep.extend(chosen.looks);
        }
        let fixed = Seconds::from(SETTLE) + time_of(&coarse) * 2.0 + Seconds::new(EXTRA);
        let downs = crate::packing::packed(deep.clone(), fixed, silence.key_for, Look::time_on_the_wire);
        let longest = downs
            .iter()
            .map(|looks| looks.iter().fold(fixed, |sum, look| sum + look.time_on_the_wire()))
            .fold(silence.key_for, Seconds::max);
        Ok(SilenceApproach {
            bands,
            coarse,
            deep,
            key_downs: downs.len(),
            keyed: longest + Seconds::new(EXTRA),
            fixed,
            floor,
            ceiling: least,
            enough,
        })
    }

    /// The bands that are looked through for one frequency, as far as path and analyser reach.
    fn silent_bands(&self, silence: &Silence, frequency: Hertz) -> Vec<Range<Hertz>> {
        let beside = Range::new(frequency * (1.0 - BESIDE), frequency * (1.0 + BESIDE));
        if silence.bands.is_empty() {
            let carriers = self.plan.channels.iter().map(|channel| channel.carrier);
            let all = carriers.chain([frequency]);
            let (low, high) = all.fold((frequency, frequency), |(low, high), at| (low.min(at), high.max(at)));
            let band = self.within_reach(low * (1.0 - AROUND), high * (1.0 + AROUND));
            return band.into_iter().collect();
        }
        let mut bands: Vec<Range<Hertz>> = silence.bands.iter().map(|(band, _)| *band).collect();
        if !bands.iter().any(|band| band.contains(frequency)) {
            bands.extend(beside.and_then(|beside| self.within_reach(beside.low(), beside.high())));
        }
        bands
    }

    /// The part of a range that the path of the carrier and the analyser cover.
    pub(crate) fn within_reach(&self, low: Hertz, high: Hertz) -> Option<Range<Hertz>> {
        let covered = self.carrier_way().branch.path.covered()?;
        let range = self.bench.analyser_profile().ranges.frequency;
        Range::new(low.max(covered.low()).max(range.low()), high.min(covered.high()).min(range.high()))
    }

    /// The strongest that a carrier of a power setting can be at the analyser's input within a range.
    fn strongest_at_input(
        &self,
        way: &Way,
        range: Range<Hertz>,
        power: &PowerSetting,
    ) -> Result<Dbm, PathError> {
        let mut least = way.branch.path.loss_at(range.low())?.total;
        for at in places(range) {
            least = least.min(way.branch.path.loss_at(at)?.total);
        }
        Ok(power.window.high().dbm() - least)
    }

    /// The most that the path loses within a range.
    pub(crate) fn most_loss(&self, way: &Way, range: Range<Hertz>) -> Result<Db, PathError> {
        let mut most = way.branch.path.loss_at(range.low())?.total;
        for at in places(range) {
            most = most.max(way.branch.path.loss_at(at)?.total);
        }
        Ok(most)
    }

    /// The strictest of what is let pass within a range, at the analyser's input, less what is uncertain of it; `None`
    /// where there is no number.
    pub(crate) fn allowed_at_input(
        &self,
        way: &Way,
        ceiling: &Ceiling,
        (carrier, power): (Hertz, spurline_units::Power),
        range: Range<Hertz>,
    ) -> Result<Option<Dbm>, PathError> {
        let profile = self.bench.analyser_profile();
        let file = self.instrument(Role::Analyser).profile.source.name();
        let mut least: Option<Dbm> = None;
        for at in places(range) {
            let Some(level) = ceiling.at(carrier, power.watts(), at) else { return Ok(None) };
            let budget = analyser_budget(profile, file, &way.branch.path, &self.plan.unit, at, true)?;
            let here = level - way.branch.path.loss_at(at)?.total - budget.expanded(COVERAGE);
            least = Some(least.map_or(here, |known| known.min(here)));
        }
        Ok(least)
    }
}

/// Places of a range, its ends among them.
pub(crate) fn places(range: Range<Hertz>) -> impl Iterator<Item = Hertz> {
    let step = (range.high() - range.low()) / f64::from(PLACES - 1);
    (0..PLACES).map(move |n| if n + 1 == PLACES { range.high() } else { range.low() + step * f64::from(n) })
}

/// Looks that reach below a level.
pub(crate) struct Deep {
    pub(crate) looks: Vec<Look>,
    /// The highest that noise will show, at the analyser's input.
    pub(crate) height: Dbm,
    /// Whether that is low enough.
    pub(crate) enough: bool,
}

/// The quickest looks over a range whose noise stays below `allowed` at the input with room to spare; if none does, the
/// deepest of which none takes longer than `each` and all together no longer than `together`.
pub(crate) fn deep_looks(
    job: &Job,
    range: Range<Hertz>,
    attenuation: Db,
    allowed: Option<Dbm>,
    sweeps: u32,
    (each, together): (Seconds, Seconds),
) -> Deep {
    let profile = job.bench.analyser_profile();
    let expected = allowed.unwrap_or(Dbm::new(-60.0));
    let mut last: Option<Deep> = None;
    for rbw in bandwidths(profile) {
        let looks = wide_looks(profile, range, rbw, attenuation, expected, sweeps);
        let longest = looks.iter().map(Look::time_on_the_wire).fold(Seconds::new(0.0), Seconds::max);
        // Room beyond what is enough is not worth any time.
        if last.as_ref().is_some_and(|last| last.enough) && time_of(&looks) > COMFORT {
            break;
        }
        if last.is_some() && (longest > each || time_of(&looks) > together) {
            break;
        }
        let height = noise_at_input(profile, rbw, attenuation) + peak_height(&looks);
        let roomy = allowed.is_none_or(|allowed| height + ROOM <= allowed);
        let enough = allowed.is_none_or(|allowed| height <= allowed);
        last = Some(Deep { looks, height, enough });
        if roomy {
            break;
        }
    }
    last.expect("an analyser has at least one bandwidth")
}
