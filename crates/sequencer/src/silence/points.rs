//! What came with the key in a look, point by point: against what was there before, afterwards and on another key-down.

use spurline_plan::{Job, Look, Way, noise_at_input, peak_height};
use spurline_record::{Acquisition, AnalyserSettings};
use spurline_units::{Db, Dbm, Hertz};

use super::Looks;
use crate::fault::RunFault;
use crate::stage::{Place, held};

/// What comes with the key stands so far above what was there without it (common practice).
pub(super) const PART: Db = Db::new(10.0);
/// Beyond the highest that noise is expected to show, a point is something.
const BEYOND_NOISE: Db = Db::new(3.0);
/// A point to each side may hold the same line in another sweep.
const NEAR: usize = 2;

/// The limit at a frequency for a unit that was told to transmit at another; `None` where there is no number.
pub(super) fn limit(job: &Job, commanded: Hertz, frequency: Hertz) -> Option<Dbm> {
    let (silence, power) = job.plan.silence.as_ref().zip(job.silence_power())?;
    silence.ceiling.at(commanded, power.window.high().watts(), frequency)
}

/// A band, without and with the key: the highest of all sweeps at each point.
pub(super) struct Seen<'a> {
    keyed: &'a Acquisition,
    before: Vec<f64>,
    with: Vec<f64>,
}

impl<'a> Seen<'a> {
    pub(super) fn of(before: &Acquisition, keyed: &'a Acquisition) -> Self {
        Self { keyed, before: held(&before.sweeps), with: held(&keyed.sweeps) }
    }

    /// What was at a point, or beside it, without the key.
    fn before(&self, point: usize) -> f64 {
        near(&self.before, point)
    }

    fn is_new(&self, point: usize) -> bool {
        self.with[point] >= self.before(point) + PART.get()
    }

    /// Whether something came with the key.
    pub(super) fn has_new(&self) -> bool {
        (0..self.with.len()).any(|point| self.is_new(point))
    }

    fn place(&self, way: &Way, point: usize) -> Result<Place, RunFault> {
        Ok(Place::of(way, self.keyed, point, self.with[point])?)
    }
}

/// The highest of a point and those beside it.
fn near(levels: &[f64], point: usize) -> f64 {
    let end = (point + NEAR + 1).min(levels.len());
    levels[point.saturating_sub(NEAR).min(end)..end].iter().copied().fold(f64::MIN, f64::max)
}

/// The highest that noise will show in looks with such settings, at the analyser's input.
fn noise(job: &Job, settings: &AnalyserSettings, looks: &[Look]) -> Dbm {
    noise_at_input(job.bench.analyser_profile(), settings.rbw, settings.attenuation) + peak_height(looks)
}

/// What came in a look with the attenuator in and stands out of its noise: the place that is nearest to what is let
/// pass, with how far it is below that. Where there is no number nothing is above it.
pub(super) fn carrier(
    job: &Job,
    way: &Way,
    before: &Acquisition,
    keyed: &Acquisition,
    (look, commanded): (&Look, Hertz),
) -> Result<Option<(Place, Db)>, RunFault> {
    let seen = Seen::of(before, keyed);
    let clear = noise(job, &look.settings, std::slice::from_ref(look)) + BEYOND_NOISE;
    let mut worst: Option<(Place, Db)> = None;
    for point in (0..seen.with.len()).filter(|point| seen.is_new(*point)) {
        let place = seen.place(way, point)?;
        let Some(limit) = limit(job, commanded, place.frequency).filter(|_| place.raw > clear) else {
            continue;
        };
        let margin = limit - place.level;
        if worst.is_none_or(|(_, known)| margin < known) {
            worst = Some((place, margin));
        }
    }
    Ok(worst)
}

/// One point that matters: how near it is to what is let pass.
pub(super) struct Worst {
    pub(super) place: Place,
    pub(super) margin: Db,
    /// The place of its look among those that were taken.
    pub(super) look: usize,
    /// Whether it stands out of the noise of its look.
    pub(super) stands: bool,
    /// Whether it came on another key-down as well; nothing where nobody looked.
    pub(super) again: Option<bool>,
}

/// The points of the deep looks that are nearest to what is let pass.
#[derive(Default)]
pub(super) struct Nearest {
    /// Of those that came with the key and went with it.
    pub(super) unit: Option<Worst>,
    /// Of all.
    pub(super) any: Option<Worst>,
    /// A frequency at which there is no number.
    pub(super) unnumbered: Option<Hertz>,
}

impl Nearest {
    /// Over some of the deep looks.
    pub(super) fn of(
        job: &Job,
        way: &Way,
        looks: &Looks,
        wanted: impl Fn(usize) -> bool,
    ) -> Result<Self, RunFault> {
        let mut nearest = Self::default();
        let commanded = looks.commanded;
        let all: Vec<Look> = looks.deep.iter().map(|(before, _)| taken_as(before)).collect();
        let taken = looks.deep.iter().filter_map(|(before, keyed)| Some((before, keyed.as_ref()?)));
        for (number, (before, keyed)) in taken.enumerate().filter(|(number, _)| wanted(*number)) {
            let seen = Seen::of(before, keyed);
            let same = |others: &[Acquisition]| -> Vec<Vec<f64>> {
                let alike = others.iter().filter(|other| other.settings == keyed.settings);
                alike.map(|other| held(&other.sweeps)).collect()
            };
            let (after, again) = (same(&looks.after), same(&looks.again));
            let clear = noise(job, &keyed.settings, &all) + BEYOND_NOISE;
            for point in 0..seen.with.len() {
                let place = seen.place(way, point)?;
                let Some(limit) = limit(job, commanded, place.frequency) else {
                    nearest.unnumbered = Some(place.frequency);
                    continue;
                };
                let margin = limit - place.level;
                // What is there after key up as well came from somewhere else.
                let shows = |held: &Vec<f64>| near(held, point) + PART.get() > seen.with[point];
                let worst = || Worst {
                    place,
                    margin,
                    look: number,
                    stands: place.raw > clear,
                    again: (!again.is_empty()).then(|| again.iter().any(shows)),
                };
                let is_less =
                    |known: &Option<Worst>| known.as_ref().is_none_or(|known| margin < known.margin);
                if is_less(&nearest.unit)
                    && seen.is_new(point)
                    && place.raw > clear
                    && !after.iter().any(shows)
                {
                    nearest.unit = Some(worst());
                }
                if is_less(&nearest.any) {
                    nearest.any = Some(worst());
                }
            }
        }
        Ok(nearest)
    }
}

/// A look with the settings of one that was taken.
pub(super) fn taken_as(look: &Acquisition) -> Look {
    Look { settings: look.settings, sweeps: look.sweeps.len() as u32 }
}
