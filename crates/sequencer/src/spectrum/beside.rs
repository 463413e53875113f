//! What stands beside the carrier: in the adjacent channels, and under a mask.

use spurline_judge::{
    Budget, Contribution, Decision, Distribution, MaskLevel, MaskLimit, MaskPlace, MaskWorst, Spread,
    Verdict, agree, emission_mask, judge_bound, judge_upper, level_within,
};
use spurline_path::PathError;
use spurline_plan::{Look, OwnNoise, SpectrumTask, own_noise, ratio_budget};
use spurline_profile::AnalyserProfile;
use spurline_record::{
    AnalyserSettings, Derivation, Figure, Limit, Outcome, Reading, Reason, ReasonCode, Unit,
};
use spurline_units::{Db, Dbm, Hertz, Watts};

use super::{Judging, Looked, Seen, loss, scatter};
use crate::ambient::Source;
use crate::conversion;
use crate::possible::{self, MeasuredCarrier, Possible};
use crate::trace;

/// A level beside the carrier, with everything that decides about it.
struct Beside {
    /// At the connector.
    level: Dbm,
    /// Whether the true level may be lower, because the filter is wider than the limit's bandwidth.
    bound: bool,
    /// The most that the analyser itself added, at the connector; `None` where nobody says.
    own: Option<Watts>,
    /// What stands there without the key beyond the analyser's noise, at the connector.
    others: Option<Dbm>,
    budget: Budget,
}

/// What stands there without the key may have been stronger by this while the unit was keyed.
const SAME: Db = Db::new(6.0);

/// Sweeps scatter alike so many bandwidths to either side of a place.
const ALIKE: f64 = 5.0;

/// The standard deviation of the mean at a point, from what the sweeps differ by at it and about it, and the degrees of
/// freedom behind that: two sweeps alone would say next to nothing at one of some hundred points. Points nearer to each
/// other than the bandwidth differ together.
fn pooled_scatter(looked: &Looked, point: usize) -> Option<(f64, f64)> {
    let settings = looked.settings();
    let of_bandwidth = (settings.rbw / settings.spacing()).max(1.0);
    let about = (of_bandwidth * ALIKE).round() as usize;
    let points = point.saturating_sub(about)..(point + about + 1).min(looked.levels.len());
    let of_points: Vec<_> =
        points.filter_map(|point| trace::scatter(&looked.look.sweeps, point, 0)).collect();
    let count = of_points.len() as f64;
    let variance = of_points.iter().map(|scatter| scatter.of_mean.get().powi(2)).sum::<f64>() / count;
    let freedom = of_points.first()?.freedom * (count / of_bandwidth).max(1.0);
    Some((variance.sqrt(), freedom))
}

/// The looks of a task at what stands beside the carrier.
pub(super) fn looks(task: &SpectrumTask) -> Vec<&Look> {
    match task {
        SpectrumTask::Mask { look, .. } => vec![look],
        SpectrumTask::Adjacent { beside, .. } => beside.iter().collect(),
        SpectrumTask::Emission(_) | SpectrumTask::Frequency { .. } => Vec::new(),
    }
}

/// The analyser beside a carrier: what it adds there, and what a look without the key shows more than that.
struct Analyser<'a> {
    profile: &'a AnalyserProfile,
    settings: &'a AnalyserSettings,
    carrier: Hertz,
    carrier_at_input: Dbm,
    occupied: Hertz,
    loss: Db,
}

impl Analyser<'_> {
    /// About a frequency, over a width.
    fn own_noise(&self, at: Hertz, width: Hertz) -> OwnNoise {
        let (offset, half) = (Hertz::new((at - self.carrier).get().abs()), width / 2.0);
        let attenuation = self.settings.attenuation;
        let offsets = offset - half..=offset + half;
        own_noise(self.profile, attenuation, self.carrier_at_input, self.occupied, offsets)
    }

    /// The same at the connector.
    fn own(&self, at: Hertz, width: Hertz) -> Option<Watts> {
        self.own_noise(at, width).total().map(|total| total * self.loss.power_ratio())
    }

    /// What of the levels without the key is more than the analyser's noise, at the connector.
    fn others(&self, at: Hertz, width: Hertz, unkeyed: impl Iterator<Item = Option<Dbm>>) -> Option<Dbm> {
        let highest = unkeyed.flatten().reduce(Dbm::max)?;
        let more = highest.to_watts() - self.own_noise(at, width).thermal.to_watts();
        (more.get() > 0.0).then(|| more.to_dbm() + self.loss)
    }
}

impl Beside {
    /// The least that the unit puts there: what was read less all that the analyser may have added, and that others may.
    fn least(&self) -> Option<Dbm> {
        let others = self.others.map_or(Watts::new(0.0), |others| (others + SAME).to_watts());
        self.less(self.own? + others)
    }

    fn less(&self, what: Watts) -> Option<Dbm> {
        let left = self.level.to_watts() - what;
        (left.get() > 0.0 && !self.bound).then(|| left.to_dbm())
    }

    /// Whether it would exceed but for what others may put there.
    fn is_hidden_by_others(&self, limits: &[Dbm], expanded: Db) -> bool {
        let by_the_unit = self.own.and_then(|own| self.less(own));
        let exceeds = by_the_unit.is_some_and(|level| limits.iter().all(|limit| level - expanded > *limit));
        self.others.is_some_and(|others| exceeds || self.level - others < SAME)
    }

    /// What was read shows that a limit is kept, its least that one is exceeded.
    fn judged(&self, limit: Dbm, spread: &Spread, judging: &Judging<'_>) -> Decision {
        let rule = conversion::rule(&judging.job.plan);
        let by_most = judge_bound(self.level, limit, spread, rule);
        let exceeds = self
            .least()
            .is_some_and(|least| judge_upper(least, limit, spread, rule).verdict == Verdict::Exceeds);
        if exceeds { Decision { verdict: Verdict::Exceeds, ..by_most } } else { by_most }
    }

    fn undecided(&self, decision: &Decision, possible: &Possible, expanded: Db) -> Reason {
        let own = self.own.map(Watts::to_dbm);
        if decision.margin.get() > -expanded.get() {
            let text = format!("{} is within {expanded:.2} of the limit", self.level);
            return Reason::new(ReasonCode::WithinUncertainty, text);
        }
        if let Some(others) = self.others.filter(|_| self.is_hidden_by_others(&possible.levels, expanded)) {
            let Reason { code, text } = Source::Unknown.reason(others);
            let text = format!(
                "{text}, and hides what the unit puts there: screen the bench, or take another channel"
            );
            return Reason::new(code, text);
        }
        if self.bound {
            let text = "the filter is wider than the limit's bandwidth: what is read is more than what is there, by as much as \
                        nobody knows; a longer key-down allows a narrower one";
            return Reason::new(ReasonCode::TooUncertain, text);
        }
        match own {
            None => Reason::new(
                ReasonCode::FloorTooHigh,
                "the analyser's profile does not say how much noise it adds so near to a carrier (`phase_noise`): what was \
                 read may be its own",
            ),
            Some(own)
                if self
                    .least()
                    .is_none_or(|least| possible.levels.iter().any(|limit| least - expanded <= *limit)) =>
            {
                let text =
                    format!("the analyser itself may add {own:.1} of the {:.1} that were read", self.level);
                Reason::new(ReasonCode::FloorTooHigh, text)
            }
            Some(_) => Reason::new(
                ReasonCode::BranchesDisagree,
                "the rule leaves several limits possible and they do not agree",
            ),
        }
    }
}

impl Judging<'_> {
    fn analyser<'l>(
        &'l self,
        looked: &'l Looked,
        carrier: &MeasuredCarrier,
    ) -> Result<Analyser<'l>, PathError> {
        let loss = loss(self, carrier.nominal)?;
        Ok(Analyser {
            profile: self.job.bench.analyser_profile(),
            settings: looked.settings(),
            carrier: carrier.nominal,
            carrier_at_input: carrier.at_analyser.unwrap_or(carrier.level - loss),
            occupied: carrier.occupied.max(self.job.plan.modulation.occupied(1)),
            loss,
        })
    }

    /// The power in a channel beside, over that of the emission, and that at the measured carrier's level.
    pub(super) fn adjacent(&self, seen: &Seen, side: usize, reading: &mut Reading) -> Result<(), PathError> {
        let Some(asked) = &self.job.plan.measure.spectrum.adjacent else { return Ok(()) };
        let (carrier, own, beside) = (&seen.carrier, &seen.looked[0], &seen.looked[side + 1]);
        let noise_bandwidth = self.job.bench.analyser_profile().noise.bandwidth;
        let (half, own_half) = (asked.width / 2.0, self.job.own_width() / 2.0);
        let at = reading.frequency;
        let in_own = own.power(carrier.nominal - own_half, carrier.nominal + own_half, noise_bandwidth);
        let there = beside.power(at - half, at + half, noise_bandwidth);
        let Some((in_own, there)) = in_own.zip(there) else { return Ok(()) };
        let mut possible = possible::limits_by(self.job.adjacent_rule(), carrier, reading.frequency);
        if let Some(below) = asked.below {
            possible.levels = vec![carrier.level - below];
            (possible.absolute, possible.settled) = (false, None);
            possible.derivation = Derivation {
                source: format!("{}: measure.adjacent_channel.below", self.job.document.source.name()),
                steps: vec![format!("{below} below the carrier's {}", carrier.level)],
            };
        }
        let sweeps = beside.of_sweeps(|trace| {
            let bandwidth = beside.settings().rbw * noise_bandwidth;
            spurline_judge::channel_power(trace, at - half, at + half, bandwidth).map(Dbm::get)
        });
        let analyser = self.analyser(beside, carrier)?;
        let of_side = seen.unkeyed.iter().skip(side).step_by(2);
        let unkeyed = of_side.map(|unkeyed| unkeyed.power(at - half, at + half, noise_bandwidth));
        let beside = Beside {
            level: carrier.level + (there - in_own),
            bound: false,
            own: analyser.own(at, asked.width),
            others: analyser.others(at, asked.width, unkeyed),
            budget: self.budget_beside(carrier, possible.absolute, false, scatter(&sweeps)),
        };
        reading.proof.width = Some(asked.width);
        reading.remarks.push(format!("{:.2} against the emission's own channel", there - in_own));
        self.decide_beside(carrier, reading, &beside, &possible);
        Ok(())
    }

    /// The worst place of the emission under its mask, counted from a look through a wide filter.
    pub(super) fn mask(&self, seen: &Seen, reading: &mut Reading) -> Result<(), PathError> {
        let (carrier, wide, narrow) = (&seen.carrier, &seen.looked[0], &seen.looked[1]);
        let trace = narrow.trace();
        let Some((_, reference)) = wide.trace().highest() else { return Ok(()) };
        let filter = narrow.settings().rbw;
        let noise_bandwidth = filter * self.job.bench.analyser_profile().noise.bandwidth;
        let analyser = self.analyser(narrow, carrier)?;
        let possible_at = |at: Hertz| possible::limits_by(self.job.mask_rule(), carrier, at);
        let mut settled = None;
        let limit = |at: Hertz| {
            let possible = possible_at(at);
            let Some(strictest) = possible.levels.iter().copied().reduce(Dbm::min) else {
                settled = settled.take().or(possible.settled);
                return None;
            };
            let limit = MaskLimit { levels: possible.levels, bandwidth: possible.bandwidth };
            // An emission is never more than the whole of it.
            (strictest < carrier.level).then_some(limit)
        };
        let beside = |place: &MaskPlace, absolute: bool| {
            let scatter = pooled_scatter(narrow, place.point);
            let MaskLevel { level, bandwidth, bound } = place.level;
            let unkeyed = seen.unkeyed.iter().map(|unkeyed| {
                let trace = unkeyed.trace();
                level_within(&trace, place.point, filter, noise_bandwidth, place.limit.bandwidth)
                    .map(|found| found.level)
            });
            Beside {
                level,
                bound,
                own: analyser.own(place.frequency, bandwidth),
                others: analyser.others(place.frequency, bandwidth, unkeyed),
                budget: self.budget_beside(carrier, absolute, true, scatter),
            }
        };
        let judged = |place: &MaskPlace| {
            let beside = beside(place, possible_at(place.frequency).absolute);
            let spread = Spread::of(&beside.budget);
            let levels = place.limit.levels.iter();
            let decision = agree(levels.map(|limit| beside.judged(*limit, &spread, self)));
            decision.map_or(Verdict::Complies, |decision| decision.verdict)
        };
        let correction = carrier.level - reference;
        let worst = emission_mask(&trace, filter, noise_bandwidth, correction, limit, judged);
        let Some(MaskWorst { place, judged, beyond }) = worst else {
            let none = Reason::new(ReasonCode::NoNumericLimit, "the rule has no mask for this carrier");
            (reading.outcome, reading.reason) =
                settled.map_or((Outcome::NoLimit, Some(none)), |(outcome, reason)| (outcome, Some(reason)));
            return Ok(());
        };
        let at = place.frequency;
        let possible = possible_at(at);
        reading.frequency = at;
        reading.remarks.push(format!(
            "{judged} places were held against the mask, out to {} either side; the worst is {:+.0} Hz from the carrier",
            self.job.mask_out_to(),
            (at - carrier.nominal).get()
        ));
        if beyond > 0 {
            reading
                .remarks
                .push(format!("{beyond} places could not be: the limit's bandwidth goes beyond the trace"));
        }
        self.decide_beside(carrier, reading, &beside(&place, possible.absolute), &possible);
        Ok(())
    }

    /// A level over the carrier is uncertain by the scale between them; where a limit does not go with the carrier, by the
    /// carrier too.
    fn budget_beside(
        &self,
        carrier: &MeasuredCarrier,
        absolute: bool,
        switched: bool,
        scatter: Option<(f64, f64)>,
    ) -> Budget {
        let mut budget = ratio_budget(self.job.bench.analyser_profile(), switched);
        if let Some((of_mean, freedom)) = scatter {
            let source = "scatter of this reading's sweeps";
            let name = "repeatability of the sweeps";
            let line = Contribution::new(name, Db::new(of_mean), Distribution::Standard, source);
            budget.lines.push(line.with_freedom(freedom));
        }
        if absolute {
            budget.lines.extend(carrier.budget.lines.iter().cloned());
        }
        budget
    }

    fn decide_beside(
        &self,
        carrier: &MeasuredCarrier,
        reading: &mut Reading,
        beside: &Beside,
        possible: &Possible,
    ) {
        let spread = Spread::of(&beside.budget);
        let level = beside.level;
        reading.figure = Some(Figure {
            value: level.get(),
            unit: Unit::Dbm,
            level: Some(level),
            bound: beside.bound || beside.least().is_none(),
        });
        reading.budget = Some(conversion::budget(&beside.budget));
        reading.derivation = possible.derivation.clone();
        reading.limit = match possible.levels.as_slice() {
            [limit] => Some(Limit::Upper { level: *limit, below_carrier: Some(carrier.level - *limit) }),
            _ => possible.recorded(carrier.level),
        };
        reading.proof.own_distortion = None;
        reading.proof.lowest = beside.least();
        reading.proof.highest = Some(level);
        reading.proof.unkeyed = beside.others;
        if let Some(own) = beside.own {
            reading.remarks.push(format!("the analyser itself adds at most {:.1} there", own.to_dbm()));
        }
        if let Some((outcome, reason)) = &possible.settled {
            (reading.outcome, reading.reason) = (*outcome, Some(reason.clone()));
            return;
        }
        let Some(decision) = possible.judged(|limit| beside.judged(limit, &spread, self)) else {
            reading.outcome = Outcome::NoLimit;
            reading.reason =
                Some(Reason::new(ReasonCode::NoNumericLimit, "the rule has no numeric limit here"));
            return;
        };
        reading.margin = Some(decision.margin.into());
        reading.conformance_probability = Some(decision.conformance_probability);
        (reading.outcome, reading.reason) = match decision.verdict {
            Verdict::Complies => (Outcome::Complies, None),
            Verdict::Exceeds => (Outcome::Exceeds, None),
            Verdict::Undecided if decision.too_uncertain => {
                (Outcome::Undecided, Some(conversion::too_uncertain(&self.job.plan, spread.expanded())))
            }
            Verdict::Undecided => {
                (Outcome::Undecided, Some(beside.undecided(&decision, possible, spread.expanded())))
            }
        };
    }
}

#[cfg(test)]
mod tests {
    use spurline_record::{Acquisition, Sweep, SweepFlags};

    use super::*;
    use crate::trace::specimen;

    /// By hand: two sweeps that differ by 2 dB at five of eleven points have a standard deviation of the mean of 1 dB
    /// there and of nothing at the others; 11 points of a bandwidth each are 11 degrees of freedom.
    #[test]
    fn scatter_is_pooled_about_a_place() {
        let look = |levels: [f32; 21]| Sweep { levels: levels.to_vec() };
        let mut other = [-50.0; 21];
        (0..21).step_by(2).for_each(|point| other[point] = -48.0);
        let looked = Looked::new(Acquisition {
            purpose: "mask".to_owned(),
            at: jiff::Timestamp::UNIX_EPOCH,
            keyed: true,
            settings: specimen(21, 20e3, 1e3),
            sweeps: vec![look([-50.0; 21]), look(other)],
            marker: None,
            flags: SweepFlags::default(),
        });
        let (of_mean, freedom) = pooled_scatter(&looked, 10).unwrap();
        // Of eleven points, from 5 to 15, five are even.
        assert!((of_mean - (5.0_f64 / 11.0).sqrt()).abs() < 1e-3, "{of_mean}");
        assert!((freedom - 11.0).abs() < 1e-9, "{freedom}");
    }
}
