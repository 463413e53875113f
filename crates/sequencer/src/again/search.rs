//! What a search was worth, judged again: how deep its sweeps show is worked out from them anew; what its closer looks
//! showed is kept only as words, and stays what it was.

use spurline_judge::{Spread, Verdict, judge_bound};
use spurline_path::PathError;
use spurline_plan::{SearchLayout, analyser_budget};
use spurline_record::{
    Acquisition, Figure, Floor, JudgedFrom, Outcome, Reading, Reason, ReasonCode, Role, Unit, VerdictReading,
};
use spurline_units::{Db, Dbm, Hertz};

use super::corrected::comes_nearer;
use super::recorded as as_recorded;
use super::state::InState;
use crate::conversion;
use crate::possible::{self, MeasuredCarrier};
use crate::search::{peaks, segment_of};

/// The keyed sweeps of a search are for this.
const SWEPT: &str = "search";

/// A place along the sweeps.
struct Depth {
    at: Hertz,
    found_from: Dbm,
    floor: Dbm,
    room: f64,
}

impl InState<'_> {
    /// The reading of a search; `carrier` is the one of its sweeps.
    pub(super) fn search(
        &self,
        carrier: &MeasuredCarrier,
        recorded: &Reading,
    ) -> Result<VerdictReading, PathError> {
        let layout = self.was.search(self.case.channel, self.case.power)?;
        let (Some(layout), Some(holds)) =
            (layout, self.job.plan.measure.search.as_ref().map(|search| search.holds))
        else {
            return Ok(as_recorded(recorded));
        };
        if recorded.outcome == Outcome::Invalid || recorded.figure.is_none() {
            return Ok(as_recorded(recorded));
        }
        let sweeps: Vec<&Acquisition> =
            recorded.acquisitions.iter().filter(|look| look.keyed && look.purpose == SWEPT).collect();
        let (new, old) = (&self.job.harmonics_way().branch.path, &self.was.harmonics_way().branch.path);
        let mut touched = new != old || conversion::rule(&self.job.plan) != conversion::rule(&self.was.plan);
        let mut nearer = false;
        let mut worst: Option<Depth> = None;
        for sweep in &sweeps {
            for (at, noise, detect) in places(sweep, &layout, holds) {
                let loss = new.loss_at(at)?.total;
                let before = old.loss_at(at)?.total;
                let possible = possible::limits(self.job, carrier, at);
                let possible_then = possible::limits(self.was, carrier, at);
                touched |=
                    possible.levels != possible_then.levels || possible.settled != possible_then.settled;
                // A higher loss brings every line of a sweep nearer to its limit, as a lower limit does.
                nearer |= loss > before || comes_nearer(&possible_then, &possible);
                let floor = Dbm::new(noise) + loss;
                let found_from = floor + detect;
                let limit = possible.levels.into_iter().reduce(Dbm::min);
                let room = limit.map_or(f64::INFINITY, |limit| (limit - found_from).get());
                if worst.as_ref().is_none_or(|worst| room < worst.room) {
                    worst = Some(Depth { at, found_from, floor, room });
                }
            }
        }
        let Some(worst) = worst.filter(|_| touched) else { return Ok(as_recorded(recorded)) };
        self.held_against(carrier, recorded, &worst, nearer)
    }

    fn held_against(
        &self,
        carrier: &MeasuredCarrier,
        recorded: &Reading,
        worst: &Depth,
        nearer: bool,
    ) -> Result<VerdictReading, PathError> {
        let job = self.job;
        let possible = possible::limits(job, carrier, worst.at);
        let file = job.instrument(Role::Analyser).profile.source.name();
        let path = &job.harmonics_way().branch.path;
        let budget =
            analyser_budget(job.bench.analyser_profile(), file, path, &job.plan.unit, worst.at, true)?;
        let budget =
            if possible.follows_carrier { budget.of_difference(&carrier.budget, |_| false) } else { budget };
        let spread = Spread::of(&budget);
        let rule = conversion::rule(&job.plan);
        let decision = possible.judged(|limit| judge_bound(worst.found_from, limit, &spread, rule));
        let mut reading = recorded.clone();
        reading.frequency = worst.at;
        reading.figure = Some(Figure {
            value: worst.found_from.get(),
            unit: Unit::Dbm,
            level: Some(worst.found_from),
            bound: true,
        });
        reading.limit = possible.recorded(carrier.level);
        reading.budget = Some(conversion::budget(&budget));
        let above: Db = worst.found_from - worst.floor;
        reading.proof.floor =
            Some(Floor { level: worst.floor, distance: above, height: above, points: peaks::BLOCK as u32 });
        reading.derivation = possible.derivation.clone();
        reading.margin = decision.as_ref().map(|decision| decision.margin.into());
        reading.conformance_probability = decision.as_ref().map(|decision| decision.conformance_probability);
        let of_the_floor = |reason: &Reason| {
            matches!(
                reason.code,
                ReasonCode::FloorTooHigh
                    | ReasonCode::WithinUncertainty
                    | ReasonCode::TooUncertain
                    | ReasonCode::NoNumericLimit
                    | ReasonCode::Exempt
                    | ReasonCode::FactMissing
                    | ReasonCode::BranchesDisagree
            )
        };
        let stays = recorded.reason.clone().filter(|reason| !of_the_floor(reason));
        let verdict = decision.as_ref().map(|decision| decision.verdict);
        (reading.outcome, reading.reason) = if let Some((outcome, reason)) = possible.settled {
            (outcome, Some(reason))
        } else if let (Some(Verdict::Undecided | Verdict::Exceeds), _) = (verdict, ()) {
            let text = format!(
                "a line is found from {:.1} on at {}, too near to the limit: the run did not look deeper",
                worst.found_from, worst.at
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::FloorTooHigh, text)))
        } else if let Some(reason) = stays {
            (Outcome::Undecided, Some(reason))
        } else if verdict.is_none() {
            let text = "the rule has no numeric limit here";
            (Outcome::NoLimit, Some(Reason::new(ReasonCode::NoNumericLimit, text)))
        } else if nearer {
            let text = "its sweeps are deep enough, but lines that are near to what is held against them now were not near \
                        enough to be looked at again in the run";
            (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)))
        } else {
            (Outcome::Complies, None)
        };
        reading.remarks.push(
            "judged again: how deep the sweeps show is from the raw sweeps, what closer looks showed is as the run told it"
                .to_owned(),
        );
        Ok(VerdictReading { reading, from: JudgedFrom::Corrected })
    }
}

/// The middles of the blocks of a sweep, with the noise there and how far above it a line is found.
fn places(sweep: &Acquisition, layout: &SearchLayout, holds: u32) -> impl Iterator<Item = (Hertz, f64, Db)> {
    let settings = sweep.settings;
    let last = settings.points as usize - 1;
    let detect = segment_of(layout, &settings).map(|segment| layout.segments[segment].detect);
    let blocks = peaks::noise(sweep, holds).into_iter().enumerate();
    blocks.filter_map(move |(block, noise)| {
        let at = settings.frequency_of((block * peaks::BLOCK + peaks::BLOCK / 2).min(last));
        Some((at, noise, detect?))
    })
}
