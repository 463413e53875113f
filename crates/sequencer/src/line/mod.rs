//! One harmonic: read as often as it takes, proven, corrected, judged.

mod apparent;
mod evidence;
mod own;
mod unkeyed;
mod verdict;

use spurline_judge::{Budget, Coherent, Contribution, Distribution, Spread};
use spurline_path::{Distorted, PathError};
use spurline_plan::{CARRIER_ERROR, Hindrance, Job, LineTask, analyser_budget, reach, stated};
use spurline_record::{
    Acquisition, AnalyserSettings, Correction, Figure, Proof, Reading, Reason, ReasonCode, Role, Unit,
};
use spurline_units::{Db, Dbm, Hertz};

use crate::ambient::Source;
use crate::conversion;
use crate::possible::{MeasuredCarrier, Possible};
use apparent::Apparent;
use evidence::Evidence;
pub(crate) use evidence::fault;
pub(crate) use own::{Own, Product};
pub(crate) use unkeyed::{Unkeyed, with_noise};

/// The figures of a profile that say how well attenuation and bandwidth are switched.
const SWITCHING: [&str; 2] = ["accuracy.attenuator_switching", "accuracy.bandwidth_switching"];
/// Effort against scatter is worth it where scatter makes this share of all that is uncertain.
const SCATTER_SHARE: f64 = 1.0 / 3.0;

/// Everything about one harmonic that is known beforehand.
#[derive(Clone, Copy)]
pub(crate) struct LineCase<'a> {
    pub(crate) job: &'a Job,
    pub(crate) order: u32,
    pub(crate) frequency: Hertz,
    /// How wide it is by its modulation.
    pub(crate) occupied: Hertz,
    /// The bandwidth that its limit refers to.
    pub(crate) reference: Hertz,
    /// What the analyser itself may make there.
    pub(crate) own: Own,
    pub(crate) carrier: &'a MeasuredCarrier,
    pub(crate) possible: &'a Possible,
}

impl<'a> LineCase<'a> {
    pub(crate) fn new(
        job: &'a Job,
        task: &LineTask,
        carrier: &'a MeasuredCarrier,
        possible: &'a Possible,
    ) -> Self {
        // A harmonic deviates as many times as far as its carrier.
        let seen = carrier.occupied * f64::from(task.order);
        let occupied = task.occupied.max(seen);
        let reference = task.reference_bandwidth();
        let (order, frequency) = (task.order, task.frequency);
        Self { job, order, frequency, occupied, reference, own: Own::Harmonic, carrier, possible }
    }

    /// The most that the analyser itself makes there, at its input.
    fn own_at_input(&self, attenuation: Db) -> Result<Option<Dbm>, PathError> {
        Ok(self.own.at_input(self.job, self.order, self.driving()?, attenuation))
    }

    /// The path's loss at the line.
    fn loss(&self) -> Result<Db, PathError> {
        Ok(self.job.harmonics_way().branch.path.loss_at(self.frequency)?.total)
    }

    /// The carrier at the analyser's input: the larger of what the tables say and of what is there, so that a part that
    /// is not in its place does not hide what the analyser makes of it.
    fn carrier_at_input(&self) -> Result<Dbm, PathError> {
        let path = &self.job.harmonics_way().branch.path;
        let by_table = self.carrier.level - path.loss_at(self.carrier.nominal)?.total;
        Ok(self.carrier.at_analyser.map_or(by_table, |seen| seen.max(by_table)))
    }

    /// The level of the carrier at the analyser's input that products are reckoned with: the most that it can be, and as
    /// much more as what swings makes more of.
    fn driving(&self) -> Result<Dbm, PathError> {
        let grows_by = self.order.min(3);
        let swelling = self.job.plan.modulation.swelling(grows_by) / f64::from(grows_by);
        Ok(self.carrier_at_input()? + self.carrier.expanded() + swelling)
    }

    /// What parts of the path make of the carrier at the line's place, ahead of the attenuator.
    fn ahead(&self) -> Result<Distorted, PathError> {
        let order = match self.own {
            Own::Nothing => return Ok(Distorted::Not),
            own => own.order(self.order),
        };
        let path = &self.job.harmonics_way().branch.path;
        let nominal = self.carrier.nominal;
        // As much as the analyser sees of it beyond the tables may be there at the parts before it as well.
        let at_connector = self.driving()? + path.loss_at(nominal)?.total;
        path.distorted(nominal, at_connector, order)
    }

    /// By how much looks may be wrong against each other: the standard uncertainty of switching attenuation and
    /// bandwidth.
    fn step_uncertainty(&self) -> Db {
        let accuracy = &self.job.bench.analyser_profile().accuracy;
        let switching =
            accuracy.iter().filter(|figure| SWITCHING.iter().any(|name| figure.source.ends_with(name)));
        let variance: f64 = switching.map(|figure| stated(figure).standard().get().powi(2)).sum();
        Db::new(variance.sqrt())
    }

    fn search_width(&self, settings: &AnalyserSettings) -> Hertz {
        search_width(settings, self.order)
    }
}

/// One harmonic while it is looked at.
pub(crate) struct Line<'a> {
    case: LineCase<'a>,
    looks: Vec<Acquisition>,
    /// One for each look, unless it is worthless.
    evidence: Vec<Evidence>,
    fault: Option<Reason>,
    /// The looks without the key: receiving, and with the unit off.
    unkeyed: Vec<Acquisition>,
    ambient: Unkeyed,
    source: Source,
    /// What parts of the path make there.
    ahead: Distorted,
}

impl<'a> Line<'a> {
    /// Before the first look; those in `unkeyed` were taken while the key was up, the first with the unit on.
    pub(crate) fn new(
        case: LineCase<'a>,
        unkeyed: Vec<Acquisition>,
        source: Source,
    ) -> Result<Self, PathError> {
        let seen = |look| Unkeyed::at(case.job, case.frequency, case.order, case.occupied, look);
        let ambient = unkeyed.first().map(seen).transpose()?.unwrap_or(Unkeyed::nothing());
        let ahead = case.ahead()?;
        Ok(Self {
            case,
            looks: Vec::new(),
            evidence: Vec::new(),
            fault: None,
            unkeyed,
            ambient,
            source,
            ahead,
        })
    }

    /// Adds a look.
    pub(crate) fn add(&mut self, look: Acquisition) -> Result<(), PathError> {
        match Evidence::of(&self.case, &self.ahead, self.looks.len(), &look)? {
            Ok(evidence) => {
                // A look that is good makes up for one before it that was not.
                self.fault = None;
                self.evidence.push(evidence);
            }
            Err(reason) => self.fault = Some(reason),
        }
        self.looks.push(look);
        Ok(())
    }

    fn apparent(&self) -> Option<Apparent> {
        let apparent = Apparent::of(
            &self.evidence,
            self.case.own.order(self.case.order),
            self.case.step_uncertainty(),
            &self.ahead,
        )?;
        Some(self.noise(&apparent).map_or(apparent, |noise| apparent.with_noise(noise)))
    }

    /// The noise that the keyed unit adds, as far as there is a look without it by the same settings.
    fn noise(&self, apparent: &Apparent) -> Option<Dbm> {
        let best = &self.evidence[apparent.best];
        self.unkeyed.first().filter(|look| look.settings == best.settings)?;
        self.ambient.added_noise(self.case.job, &best.floor?, &self.looks[best.look], self.case.reference)
    }

    /// What keeps the line from being decided, if more looks may help.
    pub(crate) fn hindrance(&self) -> Result<Option<Hindrance>, PathError> {
        if self.case.possible.settled.is_some() || self.case.possible.levels.is_empty() {
            return Ok(None);
        }
        if matches!(self.ahead, Distorted::Unknown(_)) && self.fault.is_none() {
            // No setting of the analyser tells what was made before it.
            return Ok(None);
        }
        if let Some(reason) = &self.fault {
            let loud = reason.code == ReasonCode::Overload;
            return Ok(loud.then_some(Hindrance::OwnProduct(Dbm::new(0.0))));
        }
        let Some(apparent) = self.apparent().filter(|apparent| apparent.apart.is_none()) else {
            return Ok(None);
        };
        let best = &self.evidence[apparent.best];
        let budget = self.budget(&apparent)?;
        if verdict::is_decided(&self.case, &apparent, &Spread::of(&budget)) {
            return Ok(None);
        }
        Ok(match apparent.bound {
            Some(ReasonCode::FloorTooHigh) => Some(Hindrance::Floor),
            // The unit's own noise stays whatever the settings are.
            Some(ReasonCode::NoiseLike) => None,
            Some(_) => Some(Hindrance::OwnProduct(best.raw)),
            None if !apparent.is_proven() => Some(Hindrance::OwnProduct(best.raw)),
            None if best.random > budget.combined() * SCATTER_SHARE => Some(Hindrance::Scatter),
            None => None,
        })
    }

    /// The reading that the looks come to.
    pub(crate) fn finish(self, mut reading: Reading) -> Result<Reading, PathError> {
        let case = &self.case;
        reading.limit = case.possible.recorded(case.carrier.level);
        reading.derivation = case.possible.derivation.clone();
        let apparent = self.apparent();
        let apart = apparent.as_ref().and_then(|apparent| apparent.apart);
        let apart = apart.map(|by| {
            let text = format!("the looks at it contradict each other by {by}: it comes and goes");
            Reason::new(ReasonCode::LooksDisagree, text)
        });
        let fault = self.fault.clone().or(apart);
        if let Some(apparent) = &apparent {
            let budget = self.budget(apparent)?;
            let spread = Spread::of(&budget);
            reading.budget = Some(conversion::budget(&budget));
            self.fill_in(&mut reading, apparent)?;
            if fault.is_none() {
                let settings = &self.evidence[apparent.best].settings;
                let alike = self.unkeyed.first().is_some_and(|look| look.settings == *settings);
                let unkeyed = if alike { self.ambient } else { self.ambient.as_line() };
                let there = verdict::There { unkeyed, source: self.source, ahead: &self.ahead };
                verdict::decide(case, &mut reading, &spread, apparent, &there);
            }
        }
        if let Some(reason) = fault {
            reading.reason = Some(reason);
        } else if apparent.is_none() {
            reading.reason = Some(evidence::nothing_there());
        }
        reading.acquisitions = self.unkeyed;
        reading.acquisitions.extend(self.looks);
        Ok(reading)
    }

    fn fill_in(&self, reading: &mut Reading, apparent: &Apparent) -> Result<(), PathError> {
        let case = &self.case;
        let best = &self.evidence[apparent.best];
        let loss = case.job.harmonics_way().branch.path.loss_at(case.frequency)?;
        reading.figure = Some(Figure {
            value: apparent.level.get(),
            unit: Unit::Dbm,
            level: Some(apparent.level),
            bound: apparent.bound.is_some(),
        });
        reading.correction = Some(Correction {
            raw: best.raw,
            path: loss.parts.into_iter().map(|part| (part.name, part.loss)).collect(),
            path_loss: loss.total,
            noise: best.removed,
        });
        reading.proof = Proof {
            floor: best.floor,
            mixer_level: Some(case.carrier_at_input()? - best.settings.attenuation),
            own_distortion: self.own_of(best),
            peak_point: u32::try_from(best.peak.point).ok(),
            peak_reach: u32::try_from(reach(&best.settings)).unwrap_or(0),
            spread: best.scatter.map(|scatter| scatter.spread),
            marker_difference: best.marker,
            unkeyed: Some(self.ambient.level),
            cross_check: None,
            carrier_variation: None,
            carrier_change: None,
            read_from: u32::try_from(self.unkeyed.len() + best.look + 1).ok(),
            lowest: apparent.lowest,
            highest: apparent.highest,
            noise_counted: apparent.noise,
            width: best.width,
            steps: self.steps(),
        };
        Ok(())
    }

    /// The analyser's own product in a look, where there may be one.
    fn own_of(&self, look: &Evidence) -> Option<Dbm> {
        look.own.filter(|_| self.case.own != Own::Nothing)
    }

    /// The line by each attenuation, if there were several.
    fn steps(&self) -> Vec<spurline_record::Step> {
        if self.evidence.len() < 2 {
            return Vec::new();
        }
        let step = |look: &Evidence| spurline_record::Step {
            attenuation: look.settings.attenuation,
            rbw: look.settings.rbw,
            level: look.level,
            bound: look.hidden,
            own_distortion: self.own_of(look),
        };
        self.evidence.iter().map(step).collect()
    }

    fn budget(&self, apparent: &Apparent) -> Result<Budget, PathError> {
        let case = &self.case;
        let job = case.job;
        let best = &self.evidence[apparent.best];
        let file = job.instrument(Role::Analyser).profile.source.name();
        let profile = job.bench.analyser_profile();
        let path = &job.harmonics_way().branch.path;
        let mut budget = analyser_budget(profile, file, path, &job.plan.unit, case.frequency, true)?;
        if let Some(scatter) = best.scatter {
            let line = Contribution::new(
                "repeatability of the sweeps",
                if apparent.bound.is_some() { scatter.of_mean } else { best.random },
                Distribution::Standard,
                "scatter of this reading's sweeps",
            );
            budget.lines.push(line.with_freedom(scatter.freedom));
        }
        if let Some(half) = apparent.left_by_steps {
            budget.lines.push(Contribution::new(
                "analyser: own product, left by the steps of the attenuator",
                half,
                Distribution::Rectangular,
                "the line by each of this reading's looks",
            ));
        }
        // Where steps say what is left of the product, that is all of it.
        let below =
            apparent.own_below.filter(|_| apparent.bound.is_none() && apparent.left_by_steps.is_none());
        let below = below.filter(|_| case.own != Own::Nothing);
        if let Some(coherent) = below.and_then(Coherent::at) {
            budget.lines.push(Contribution::new(
                "analyser: own product",
                coherent.standard,
                Distribution::Standard,
                format!(
                    "{file}: limits.{}",
                    if case.own.order(case.order) == 2 { "second_intercept" } else { "third_intercept" }
                ),
            ));
        }
        if case.possible.follows_carrier {
            // At two frequencies the same part has two errors, and nobody says that they are alike.
            budget = budget.of_difference(&case.carrier.budget, |_| false);
        }
        Ok(budget)
    }
}

/// How far from its nominal place a line is looked for.
fn search_width(settings: &AnalyserSettings, order: u32) -> Hertz {
    settings.rbw + CARRIER_ERROR * f64::from(order)
}
