//! Where the emission lies: its carrier against its channel, and all of it against its band.

use spurline_judge::{Distribution, Edges, line_peak, occupied};
use spurline_plan::{AskedBand, AskedTolerance, frequency_figures};
use spurline_record::{Derivation, Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Hertz, Range};

use super::widths::{no_reference, nothing_there, with_scatter};
use super::{Judging, Looked, SHARE, judge_in_hertz};
use crate::possible::MeasuredCarrier;

/// The last digit of a frequency counter (common practice).
const COUNTER_DIGIT: Hertz = Hertz::new(1.0);

/// Where a carrier was found.
struct Found {
    at: Hertz,
    /// What its place is told apart by.
    resolution: Hertz,
    /// The same of each sweep.
    sweeps: Vec<f64>,
    /// How it was found, for people.
    how: String,
}

impl Judging<'_> {
    /// The carrier's frequency as the middle of a modulated emission.
    pub(super) fn by_the_middle(&self, carrier: &MeasuredCarrier, looked: &Looked, reading: &mut Reading) {
        let Some(edges) = occupied(&looked.trace(), SHARE) else { return nothing_there(reading) };
        let found = Found {
            at: edges.centre(),
            resolution: looked.settings().spacing(),
            sweeps: looked.of_sweeps(|trace| occupied(trace, SHARE).map(|edges| edges.centre().get())),
            how: format!("the middle between the edges of 99 % of its power is {}", shown(edges.centre())),
        };
        self.judge_frequency(carrier, reading, &found);
    }

    /// The carrier's frequency by a look at its line alone.
    pub(super) fn frequency(&self, carrier: &MeasuredCarrier, looked: &Looked, reading: &mut Reading) {
        let Some(peak) = line_peak(&looked.trace()) else { return nothing_there(reading) };
        let profile = self.job.bench.analyser_profile();
        let has = profile.commands.has(spurline_profile::AnalyserCommand::Counter).is_some();
        let counted = looked.look.marker.map(|(at, _)| at).filter(|_| has);
        let near = |at: &Hertz| (*at - peak.frequency).get().abs() <= looked.settings().rbw.get();
        let found = match counted.filter(near) {
            Some(at) => Found {
                at,
                resolution: COUNTER_DIGIT,
                sweeps: Vec::new(),
                how: format!("counted: {}; the top of its line is {}", shown(at), shown(peak.frequency)),
            },
            None => Found {
                at: peak.frequency,
                resolution: looked.settings().spacing(),
                sweeps: looked.of_sweeps(|trace| line_peak(trace).map(|peak| peak.frequency.get())),
                how: format!("the top of the parabola through its line is {}", shown(peak.frequency)),
            },
        };
        self.judge_frequency(carrier, reading, &found);
    }

    fn judge_frequency(&self, carrier: &MeasuredCarrier, reading: &mut Reading, found: &Found) {
        let nominal = reading.scope.carrier;
        let expanded = carrier.expanded();
        let powers = [carrier.level, carrier.level - expanded, carrier.level + expanded];
        let Some(asked) = self.job.tolerance(nominal, &powers.map(|level| level.to_watts())) else { return };
        let profile = self.job.bench.analyser_profile();
        let Some(budget) = frequency_figures(profile, nominal, found.resolution) else {
            return no_reference(reading);
        };
        let budget = with_scatter(budget, &found.sweeps);
        let mut derivation = Derivation { source: asked.source.clone(), steps: asked.steps.clone() };
        derivation
            .steps
            .extend([found.how.clone(), format!("the channel's frequency is {}", shown(nominal))]);
        let judged = |tolerance: Option<Hertz>| {
            let mut judged = reading.clone();
            let ends = (tolerance.map(|within| within * -1.0), tolerance);
            judge_in_hertz(self, &mut judged, found.at - nominal, ends, &budget, derivation.clone());
            judged
        };
        *reading = under_all(asked.possible.iter().map(|within| judged(Some(*within))).collect())
            .unwrap_or_else(|| judged(None));
        settle_tolerance(reading, &asked);
    }

    /// Both edges of the occupied width against the band, and its width where the band bounds it.
    pub(super) fn band(&self, looked: &Looked, reading: &mut Reading) {
        let (trace, share) = (looked.trace(), self.share());
        let Some(edges) = occupied(&trace, share) else { return nothing_there(reading) };
        let Some(asked) = self.job.band(edges.lower, edges.upper) else { return };
        let mut derivation = Derivation { source: asked.source.clone(), steps: asked.steps.clone() };
        derivation.steps.push(format!("the emission lies from {} to {}", edges.lower, edges.upper));
        let profile = self.job.bench.analyser_profile();
        if frequency_figures(profile, reading.frequency, looked.settings().spacing()).is_none() {
            return no_reference(reading);
        }
        let judged = |(band, widest): &(Range<Hertz>, Option<Hertz>)| {
            let at_edge = self.judged_at_edge(looked, &edges, *band, reading, &derivation);
            let Some(widest) = *widest else { return at_edge };
            let mut wide = reading.clone();
            let budget =
                self.budget_of_width(looked, |trace| occupied(trace, share).map(|edges| edges.width().get()));
            let ends = (None, Some(widest));
            judge_in_hertz(self, &mut wide, edges.width(), ends, &budget, derivation.clone());
            wide.remarks.push("the band bounds the width of an emission: that is what is shown".to_owned());
            worse(at_edge, wide)
        };
        let all: Vec<Reading> = asked.places.iter().map(judged).collect();
        *reading = under_all(all).unwrap_or_else(|| Reading { derivation, ..reading.clone() });
        settle_band(reading, &asked);
    }

    fn judged_at_edge(
        &self,
        looked: &Looked,
        edges: &Edges,
        band: Range<Hertz>,
        reading: &Reading,
        derivation: &Derivation,
    ) -> Reading {
        let (profile, share) = (self.job.bench.analyser_profile(), self.share());
        let lower = edges.lower - band.low() < band.high() - edges.upper;
        let place = |edges: &Edges| if lower { edges.lower } else { edges.upper };
        let settings = looked.settings();
        let line = spurline_plan::width_of_a_line(profile, settings.rbw) / 2.0;
        let budget =
            frequency_figures(profile, reading.frequency, settings.spacing()).unwrap_or_default().with(
                "filter: a line at the edge is as wide as it",
                line,
                Distribution::Rectangular,
                "the look's RBW",
            );
        let sweeps = looked.of_sweeps(|trace| occupied(trace, share).map(|edges| place(&edges).get()));
        let budget = with_scatter(budget, &sweeps);
        let mut judged = reading.clone();
        judged.remarks.push(format!(
            "the {} edge of the emission is nearer to that of its band",
            if lower { "lower" } else { "upper" }
        ));
        let ends = (Some(band.low()), Some(band.high()));
        judge_in_hertz(self, &mut judged, place(edges), ends, &budget, derivation.clone());
        judged
    }
}

/// The reading under several limits: the nearest of them if all agree, else one that decides nothing.
fn under_all(readings: Vec<Reading>) -> Option<Reading> {
    let agree = readings.iter().all(|reading| reading.outcome == readings[0].outcome);
    let mut nearest = readings.into_iter().reduce(worse)?;
    if !agree {
        nearest.outcome = Outcome::Undecided;
        let text = "several limits stay possible and they do not agree";
        nearest.reason = Some(Reason::new(ReasonCode::BranchesDisagree, text));
    }
    Some(nearest)
}

/// The one of two readings that says the worse, of equal ones that with the smaller margin.
fn worse(one: Reading, other: Reading) -> Reading {
    let margin = |reading: &Reading| reading.margin.as_ref().map_or(f64::INFINITY, |margin| margin.value);
    let is_worse = other.outcome > one.outcome
        || (other.outcome == one.outcome && margin(&other).total_cmp(&margin(&one)).is_lt());
    if is_worse { other } else { one }
}

fn settle_tolerance(reading: &mut Reading, asked: &AskedTolerance) {
    let none = asked.possible.is_empty().then_some("the rule has no tolerance for this carrier");
    settle(reading, none, asked.open, asked.needs());
}

fn settle_band(reading: &mut Reading, asked: &AskedBand) {
    let none = asked.places.is_empty().then_some("the table has no band for this emission");
    settle(reading, none, asked.open, asked.needs());
}

/// What a text itself settles, whatever was measured: that it has no number, or that it turns on something that was not
/// said.
fn settle(reading: &mut Reading, none: Option<&str>, open: bool, needs: Option<String>) {
    let disagree = reading.has_reason(ReasonCode::BranchesDisagree);
    match (none, needs) {
        (_, Some(needs)) if open || disagree => {
            (reading.outcome, reading.reason) =
                (Outcome::Undecided, Some(Reason::new(ReasonCode::FactMissing, needs)));
        }
        (Some(none), _) => {
            (reading.outcome, reading.reason) =
                (Outcome::NoLimit, Some(Reason::new(ReasonCode::NoNumericLimit, none)));
        }
        (None, _) if open => {
            let text = "the rule has a number in one possible branch and none in another";
            (reading.outcome, reading.reason) =
                (Outcome::Undecided, Some(Reason::new(ReasonCode::BranchesDisagree, text)));
        }
        (None, Some(needs)) => {
            reading.remarks.push(format!("{needs}; all that stays possible comes to the same"))
        }
        (None, None) => {}
    }
}

/// A frequency to the hertz.
fn shown(at: Hertz) -> String {
    format!("{:.0} Hz", at.get())
}
