//! The carrier's own spectrum: its widths, its place, and what stands beside it.

mod beside;
mod place;
mod widths;

use spurline_judge::{HertzBudget, HertzSpread, Trace, Verdict, channel_power, judge_hertz, occupied};
use spurline_path::PathError;
use spurline_plan::{Job, Modulation, SpectrumTask, width_of_a_line};
use spurline_record::{
    Acquisition, AnalyserSettings, Derivation, Figure, Limit, Margin, Outcome, Reading, Reason, ReasonCode,
    Unit,
};
use spurline_units::{Db, Dbm, Hertz};

use crate::ambient::{AFTERWARDS, BEFORE};
use crate::conversion;
use crate::fault::RunFault;
use crate::keyed::beating;
use crate::line::fault;
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};
use crate::trace;

/// A task that is to be done while the unit is keyed, with what stands beside the carrier's place without it.
pub(crate) struct PlannedSpectrum {
    pub(crate) task: SpectrumTask,
    unkeyed: Vec<Acquisition>,
}

/// What a task showed while the unit was keyed. It is judged when the key is up: nothing of that needs the carrier.
#[derive(Debug)]
pub(crate) struct Seen {
    /// The first of its readings among those that are held.
    first: usize,
    task: SpectrumTask,
    carrier: MeasuredCarrier,
    looked: Vec<Looked>,
    /// Of the places beside the carrier, in their order, without the key; again from the first one on if they were
    /// looked at once more.
    unkeyed: Vec<Looked>,
}

/// A look with its mean trace.
#[derive(Debug)]
pub(super) struct Looked {
    pub(super) look: Acquisition,
    pub(super) levels: Vec<f64>,
}

/// The occupied bandwidth holds this share unless a plan says otherwise (ITU-R SM.328).
const SHARE: f64 = 0.99;
/// With less than this share of its width a modulation is not there.
const SEEN: f64 = 0.5;
/// What is wider than a line by this factor is not one.
const WIDER: f64 = 1.15;
/// A sideband that is weaker than its depth makes it by more than this is not there.
const SIDEBAND_DB: f64 = 6.0;

impl Looked {
    fn new(look: Acquisition) -> Self {
        Self { levels: trace::mean_power(&look.sweeps), look }
    }

    pub(super) fn settings(&self) -> &AnalyserSettings {
        &self.look.settings
    }

    pub(super) fn trace(&self) -> Trace<'_> {
        trace::placed(&self.levels, &self.look.settings)
    }

    /// A figure of each sweep by itself.
    pub(super) fn of_sweeps(&self, figure: impl Fn(&Trace<'_>) -> Option<f64>) -> Vec<f64> {
        let sweeps = self.look.sweeps.iter();
        let levels = sweeps.map(|sweep| sweep.levels.iter().copied().map(f64::from).collect::<Vec<_>>());
        levels.filter_map(|levels| figure(&trace::placed(&levels, &self.look.settings))).collect()
    }

    pub(super) fn power(&self, low: Hertz, high: Hertz, noise_bandwidth: f64) -> Option<Dbm> {
        channel_power(&self.trace(), low, high, self.settings().rbw * noise_bandwidth)
    }
}

impl Seen {
    /// The same of looks that were taken at another time.
    pub(crate) fn of(
        task: SpectrumTask,
        carrier: MeasuredCarrier,
        looked: Vec<Acquisition>,
        unkeyed: Vec<Acquisition>,
    ) -> Self {
        let looked_at = |looks: Vec<Acquisition>| looks.into_iter().map(Looked::new).collect();
        Self { first: 0, task, carrier, looked: looked_at(looked), unkeyed: looked_at(unkeyed) }
    }

    /// What it was done for.
    pub(crate) fn task(&self) -> &SpectrumTask {
        &self.task
    }

    /// Adds looks that were taken after key up.
    pub(crate) fn also_unkeyed(&mut self, looks: Vec<Acquisition>) {
        self.unkeyed.extend(looks.into_iter().map(Looked::new));
    }

    /// Puts the looks into a reading that is judged when the key is up.
    pub(crate) fn not_judged_yet(&self, reading: &mut Reading) {
        let taken = self.unkeyed.iter().chain(&self.looked);
        reading.acquisitions = taken.map(|looked| looked.look.clone()).collect();
        reading.proof.read_from = u32::try_from(reading.acquisitions.len()).ok();
        // Whatever finds a fault in the carrier meanwhile makes it invalid.
        reading.outcome = Outcome::Undecided;
        let text = "it was not judged: the run was broken off";
        reading.reason = Some(Reason::new(ReasonCode::CarrierInvalid, text));
    }
}

/// The standard deviation of the mean of figures, and the degrees of freedom behind it; `None` for fewer than two.
pub(super) fn scatter(figures: &[f64]) -> Option<(f64, f64)> {
    let count = figures.len() as f64;
    let mean = figures.iter().sum::<f64>() / count;
    let variance = figures.iter().map(|figure| (figure - mean).powi(2)).sum::<f64>() / (count - 1.0);
    (figures.len() > 1).then(|| ((variance / count).sqrt(), count - 1.0))
}

impl Measuring<'_, '_> {
    /// What is measured of the spectrum. What stands beside the carrier's place is looked at without the key first.
    pub(crate) async fn spectrum_works(&mut self, case: &Case<'_>) -> Result<Vec<PlannedSpectrum>, RunFault> {
        let mut planned = Vec::new();
        for task in self.job.spectrum_tasks(case.channel, case.power)? {
            let mut unkeyed = Vec::new();
            for look in beside::looks(&task) {
                unkeyed.push(self.look(BEFORE, look).await?);
            }
            planned.push(PlannedSpectrum { task, unkeyed });
        }
        Ok(planned)
    }

    /// The readings of a task before anything is known of them.
    pub(crate) fn spectrum_blanks(&self, case: &Case<'_>, task: &SpectrumTask) -> Vec<Reading> {
        let first = self.blank(case, self.job.carrier_way(), None);
        let asked = self.job.asked_of(task, case.channel).into_iter().zip(first.ordinal..);
        asked
            .map(|(asked, ordinal)| Reading {
                ordinal,
                quantity: asked.quantity,
                name: asked.name,
                frequency: asked.frequency,
                ..first.clone()
            })
            .collect()
    }

    /// Looks; what was seen is judged later.
    pub(crate) async fn spectrum(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        planned: PlannedSpectrum,
    ) -> Result<Vec<Reading>, RunFault> {
        let PlannedSpectrum { task, unkeyed } = planned;
        self.doing(task.what())?;
        let mut looked = Vec::new();
        if let SpectrumTask::Frequency { search, zoom } = &task {
            let found = Looked::new(self.keyed_look("where the carrier is", search).await?);
            let mut zoom = *zoom;
            if let Some(peak) = spurline_judge::line_peak(&found.trace()) {
                zoom.settings.centre = Hertz::new(peak.frequency.get().round());
            }
            let work =
                self.rack.analyser.acquire_counted("carrier's frequency", true, &zoom.settings, zoom.sweeps);
            let look = beating(self.key, self.clock, work).await??;
            looked.extend([found, Looked::new(look)]);
        } else {
            for look in task.looks() {
                looked.push(Looked::new(self.keyed_look(task.what(), look).await?));
            }
        }
        let first = self.done.held.len();
        let unkeyed = unkeyed.into_iter().map(Looked::new).collect();
        let seen = Seen { first, task, carrier: carrier.clone(), looked, unkeyed };
        let mut readings = self.spectrum_blanks(case, &seen.task);
        readings.iter_mut().for_each(|reading| seen.not_judged_yet(reading));
        self.done.seen.push(seen);
        Ok(readings)
    }

    /// Judges what was seen while the unit was keyed.
    pub(crate) fn judge_spectra(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let all = std::mem::take(&mut self.done.seen);
        for seen in &all {
            self.judge_seen(case, seen)?;
        }
        self.done.seen = all;
        Ok(())
    }

    /// What exceeds beside the carrier is looked at without the key once more, for what came meanwhile.
    pub(crate) async fn after_spectra(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        for mut seen in std::mem::take(&mut self.done.seen) {
            let readings = seen.first..seen.first + self.job.asked_of(&seen.task, case.channel).len();
            let exceeds =
                self.done.held[readings.clone()].iter().any(|held| held.outcome == Outcome::Exceeds);
            let looks = beside::looks(&seen.task);
            if !exceeds || looks.is_empty() {
                continue;
            }
            self.doing(&format!("{} once more, not keyed", seen.task.what()))?;
            let mut after = Vec::new();
            for look in looks {
                after.push(self.look(AFTERWARDS, look).await?);
            }
            for reading in &mut self.done.held[readings] {
                reading.acquisitions.extend(after.iter().cloned());
                reading.remarks.clear();
            }
            seen.unkeyed.extend(after.into_iter().map(Looked::new));
            self.judge_seen(case, &seen)?;
        }
        Ok(())
    }

    fn judge_seen(&mut self, case: &Case<'_>, seen: &Seen) -> Result<(), RunFault> {
        let count = self.job.asked_of(&seen.task, case.channel).len();
        let places = seen.first..seen.first + count;
        let judged = Judging { job: self.job }.seen(case, seen, self.done.held[places.clone()].to_vec())?;
        self.done.held.splice(places, judged);
        Ok(())
    }
}

/// What judges looks at a carrier's spectrum: it needs no instruments.
pub(crate) struct Judging<'a> {
    pub(crate) job: &'a Job,
}

impl Judging<'_> {
    /// Judges the readings of what was seen.
    pub(crate) fn seen(
        &self,
        case: &Case<'_>,
        seen: &Seen,
        mut readings: Vec<Reading>,
    ) -> Result<Vec<Reading>, PathError> {
        let Seen { task, carrier, looked, .. } = seen;
        // What became of the carrier meanwhile decides more than all that follows.
        let doubts: Vec<_> = readings
            .iter()
            .map(|reading| reading.reason.clone().filter(|_| reading.outcome == Outcome::Invalid))
            .collect();
        match task {
            SpectrumTask::Emission(_) => {
                for reading in &mut readings {
                    self.width(case, carrier, &looked[0], reading);
                }
            }
            SpectrumTask::Frequency { .. } => self.frequency(carrier, &looked[1], &mut readings[0]),
            SpectrumTask::Mask { .. } => self.mask(seen, &mut readings[0])?,
            SpectrumTask::Adjacent { .. } => {
                for (side, reading) in readings.iter_mut().enumerate() {
                    self.adjacent(seen, side, reading)?;
                }
            }
        }
        let worthless = looked.iter().find_map(|looked| fault(&looked.look));
        let bare = self.without_modulation(task, looked);
        for (reading, doubt) in readings.iter_mut().zip(doubts) {
            let senseless = self.job.spectrum_without_sense(reading.quantity);
            let silent = bare.clone().filter(|_| needs_modulation(reading));
            if let Some(reason) = worthless.clone().or(doubt) {
                (reading.outcome, reading.reason) = (Outcome::Invalid, Some(reason));
            } else if let Some(reason) = senseless.or(silent) {
                (reading.outcome, reading.reason) = (Outcome::Undecided, Some(reason));
            }
        }
        Ok(readings)
    }

    /// Why a spectrum says nothing: the modulation that the plan speaks of is not on it.
    fn without_modulation(&self, task: &SpectrumTask, looked: &[Looked]) -> Option<Reason> {
        let looked = match task {
            SpectrumTask::Mask { .. } => &looked[1],
            _ => &looked[0],
        };
        let told = self.job.plan.modulation.occupied(1);
        let missing = match self.job.plan.modulation {
            Modulation::Tone { .. } => {
                let width = occupied(&looked.trace(), SHARE).map_or(Hertz::new(0.0), |edges| edges.width());
                let line = width_of_a_line(self.job.bench.analyser_profile(), looked.settings().rbw);
                width < told * SEEN || width < line * WIDER
            }
            Modulation::Am { depth, tone } => !sidebands(looked, depth, tone),
            Modulation::None | Modulation::Burst { .. } => false,
        };
        missing.then(|| {
            let text = format!(
                "the plan's modulation makes the carrier about {told:.0} wide, but it is not to be seen: is the tone on?"
            );
            Reason::new(ReasonCode::NoModulation, text)
        })
    }
}

fn needs_modulation(reading: &Reading) -> bool {
    use spurline_record::Quantity::{ChannelPower, FrequencyError};
    !matches!(reading.quantity, FrequencyError | ChannelPower)
}

/// Whether both lines of an amplitude modulation stand where and as high as they should.
fn sidebands(looked: &Looked, depth: f64, tone: Hertz) -> bool {
    let trace = looked.trace();
    let Some((point, highest)) = trace.highest() else { return false };
    let least = highest + Db::new(20.0 * (depth / 2.0).max(f64::MIN_POSITIVE).log10() - SIDEBAND_DB);
    [-1.0, 1.0].into_iter().all(|side| {
        let wanted = trace.frequency(point) + tone * side;
        let near = (0..trace.levels.len())
            .filter(|at| (trace.frequency(*at) - wanted).get().abs() <= looked.settings().rbw.get());
        near.map(|at| trace.levels[at]).reduce(f64::max).is_some_and(|level| level >= least.get())
    })
}

/// Fills a figure in hertz in and judges it; without an end there is no limit.
pub(super) fn judge_in_hertz(
    judging: &Judging<'_>,
    reading: &mut Reading,
    figure: Hertz,
    (low, high): (Option<Hertz>, Option<Hertz>),
    budget: &HertzBudget,
    derivation: Derivation,
) {
    let spread = HertzSpread::of(budget);
    reading.figure = Some(Figure { value: figure.get(), unit: Unit::Hz, level: None, bound: false });
    reading.budget = Some(conversion::hertz_budget(budget));
    reading.derivation = derivation;
    let rule = conversion::rule(&judging.job.plan);
    let Some(decision) = judge_hertz(figure, low, high, &spread, rule) else {
        reading.outcome = Outcome::NoLimit;
        let text = "nothing says how much it may be: write `at_most`";
        reading.reason = Some(Reason::new(ReasonCode::NoNumericLimit, text));
        return;
    };
    reading.limit =
        Some(Limit::Between { low: low.map(Hertz::get), high: high.map(Hertz::get), unit: Unit::Hz });
    reading.margin = Some(Margin { value: decision.margin.get(), unit: Unit::Hz });
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => (Outcome::Exceeds, None),
        Verdict::Undecided => {
            let text = format!("the limit lies within the uncertainty of {:.0}", spread.expanded());
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    };
}

/// The path's loss at the carrier.
pub(super) fn loss(judging: &Judging<'_>, carrier: Hertz) -> Result<Db, PathError> {
    Ok(judging.job.carrier_way().branch.path.loss_at(carrier)?.total)
}
