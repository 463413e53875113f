//! What stands beside the carrier: in the adjacent channels, and under a mask.

use std::time::Duration;

use spurline_judge::{
    Budget, Contribution, Decision, Distribution, MaskLevel, Spread, Verdict, agree, judge_bound,
    judge_upper, level_within,
};
use spurline_plan::{OwnNoise, own_noise, ratio_budget};
use spurline_record::{Derivation, Figure, Limit, Outcome, Reading, Reason, ReasonCode, Unit};
use spurline_units::{Db, Dbm, Hertz, Watts};

use super::{Looked, loss, scatter};
use crate::conversion;
use crate::fault::RunFault;
use crate::keyed::beating;
use crate::possible::{self, MeasuredCarrier, Possible};
use crate::scope::Measuring;
use crate::trace;

/// A level beside the carrier, with everything that decides about it.
struct Beside {
    /// At the connector.
    level: Dbm,
    /// Whether the true level may be lower, because the filter is wider than the limit's bandwidth.
    bound: bool,
    /// The most that the analyser itself added, at the connector; `None` where nobody says.
    own: Option<Watts>,
    budget: Budget,
}

/// Between so many points of a mask the key's lease is kept alive.
const AT_A_TIME: usize = 50;

impl Beside {
    /// The least that the unit puts there: what was read less all that the analyser may have added.
    fn least(&self) -> Option<Dbm> {
        let left = self.level.to_watts() - self.own?;
        (left.get() > 0.0 && !self.bound).then(|| left.to_dbm())
    }

    /// What was read shows that a limit is kept, its least that one is exceeded.
    fn judged(&self, limit: Dbm, spread: &Spread, measuring: &Measuring<'_, '_>) -> Decision {
        let rule = conversion::rule(&measuring.job.plan);
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

impl Measuring<'_, '_> {
    /// What the analyser adds from one offset to another, at the connector.
    fn own_beside(
        &self,
        looked: &Looked,
        carrier: &MeasuredCarrier,
        from: Hertz,
        to: Hertz,
    ) -> Result<Option<Watts>, RunFault> {
        let loss = loss(self, carrier.nominal)?;
        let at_input = carrier.at_analyser.unwrap_or(carrier.level - loss);
        let occupied = carrier.occupied.max(self.job.plan.modulation.occupied(1));
        let attenuation = looked.settings().attenuation;
        let own: OwnNoise =
            own_noise(self.job.bench.analyser_profile(), attenuation, at_input, occupied, from..=to);
        Ok(own.total().map(|total| total * loss.power_ratio()))
    }

    /// The power in a channel beside, over that of the emission, and that at the measured carrier's level.
    pub(super) fn adjacent(
        &self,
        carrier: &MeasuredCarrier,
        [own, beside]: [&Looked; 2],
        reading: &mut Reading,
    ) -> Result<(), RunFault> {
        let Some(asked) = &self.job.plan.measure.spectrum.adjacent else { return Ok(()) };
        let profile = self.job.bench.analyser_profile();
        let noise_bandwidth = profile.noise.bandwidth;
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
        let budget = self.budget_beside(carrier, possible.absolute, false, scatter(&sweeps));
        let offset = (at - carrier.nominal).get().abs();
        let own = self.own_beside(beside, carrier, Hertz::new(offset) - half, Hertz::new(offset) + half)?;
        let level = carrier.level + (there - in_own);
        reading.proof.width = Some(asked.width);
        reading.remarks.push(format!("{:.2} against the emission's own channel", there - in_own));
        self.decide_beside(carrier, reading, &Beside { level, bound: false, own, budget }, &possible);
        Ok(())
    }

    /// The worst place of the emission under its mask, counted from a look through a wide filter.
    pub(super) async fn mask(
        &self,
        carrier: &MeasuredCarrier,
        looked: &[Looked],
        reading: &mut Reading,
    ) -> Result<(), RunFault> {
        let (wide, narrow) = (&looked[0], &looked[1]);
        let profile = self.job.bench.analyser_profile();
        let trace = narrow.trace();
        let Some((_, reference)) = wide.trace().highest() else { return Ok(()) };
        let filter = narrow.settings().rbw;
        let noise_bandwidth = filter * profile.noise.bandwidth;
        let mut worst: Option<(u8, Db, Hertz, Beside, Possible)> = None;
        let (mut judged, mut beyond) = (0, 0);
        let mut settled = None;
        for point in 0..trace.levels.len() {
            if point % AT_A_TIME == 0 {
                // What blocks for long would bring the key up.
                beating(self.key, self.clock, self.clock.sleep(Duration::ZERO)).await?;
            }
            let at = trace.frequency(point);
            let possible = possible::limits_by(self.job.mask_rule(), carrier, at);
            let Some(limit) = possible.levels.iter().copied().reduce(Dbm::min) else {
                settled = settled.or(possible.settled);
                continue;
            };
            // An emission is never more than the whole of it.
            if limit >= carrier.level {
                continue;
            }
            let Some(found) = level_within(&trace, point, filter, noise_bandwidth, possible.bandwidth) else {
                beyond += 1;
                continue;
            };
            judged += 1;
            let MaskLevel { level, bandwidth, bound } = found;
            let level = carrier.level + (level - reference);
            let scatter = trace::scatter(&narrow.look.sweeps, point, 0);
            let scatter = scatter.map(|scatter| (scatter.of_mean.get(), scatter.freedom));
            let margin = limit - level;
            // Only what may become the worst is worth its sums.
            if worst.as_ref().is_some_and(|(rank, least, ..)| *rank > 0 && margin > *least) {
                continue;
            }
            let budget = self.budget_beside(carrier, possible.absolute, true, scatter);
            let offset = Hertz::new((at - carrier.nominal).get().abs());
            let half = bandwidth / 2.0;
            let own = self.own_beside(narrow, carrier, offset - half, offset + half)?;
            let beside = Beside { level, bound, own, budget };
            let spread = Spread::of(&beside.budget);
            let decision = agree(possible.levels.iter().map(|limit| beside.judged(*limit, &spread, self)));
            let rank = match decision.map(|decision| decision.verdict) {
                Some(Verdict::Exceeds) => 2,
                Some(Verdict::Undecided) => 1,
                Some(Verdict::Complies) | None => 0,
            };
            let is_worse = worst
                .as_ref()
                .is_none_or(|(known, least, ..)| rank > *known || (rank == *known && margin < *least));
            if is_worse {
                worst = Some((rank, margin, at, beside, possible));
            }
        }
        let Some((_, _, at, beside, possible)) = worst else {
            let none = Reason::new(ReasonCode::NoNumericLimit, "the rule has no mask for this carrier");
            (reading.outcome, reading.reason) =
                settled.map_or((Outcome::NoLimit, Some(none)), |(outcome, reason)| (outcome, Some(reason)));
            return Ok(());
        };
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
        self.decide_beside(carrier, reading, &beside, &possible);
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
