//! Widths in hertz, and the power in the channel.

use spurline_judge::{
    Contribution, Distribution, HertzBudget, Spread, Trace, Verdict, judge_window, occupied, occupied_above,
    x_db,
};
use spurline_plan::{noise_at_input, ratio_budget, width_figures};
use spurline_record::{Derivation, Figure, Limit, Outcome, Quantity, Reading, Reason, ReasonCode, Unit};
use spurline_units::{Db, Dbm, Hertz, Range};

use super::{Judging, Looked, SHARE, judge_in_hertz, scatter};
use crate::conversion;
use crate::possible::MeasuredCarrier;
use crate::scope::Case;

/// By how many decibels a Gaussian filter is down at half its bandwidth.
const HALF_POWER_DB: f64 = 3.010_3;

impl Judging<'_> {
    /// One of the readings that come of a look at all of the emission.
    pub(super) fn width(
        &self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        looked: &Looked,
        reading: &mut Reading,
    ) {
        match reading.quantity {
            Quantity::OccupiedBandwidth => self.occupied(looked, reading),
            Quantity::XdbBandwidth => self.x_db(looked, reading),
            Quantity::ChannelPower => self.channel_power(case, carrier, looked, reading),
            Quantity::FrequencyError => self.by_the_middle(carrier, looked, reading),
            _ => self.band(looked, reading),
        }
    }

    pub(super) fn share(&self) -> f64 {
        self.job.plan.measure.spectrum.occupied.as_ref().map_or(SHARE, |asked| asked.share)
    }

    /// The budget of a width: filter and points, noise, scale and what the sweeps differ by.
    pub(super) fn budget_of_width(
        &self,
        looked: &Looked,
        figure: impl Fn(&Trace<'_>) -> Option<f64>,
    ) -> HertzBudget {
        let profile = self.job.bench.analyser_profile();
        let look = spurline_plan::Look { settings: looked.look.settings, sweeps: 1 };
        let mut budget = width_figures(profile, &look);
        if let Some((of_mean, freedom)) = scatter(&looked.of_sweeps(figure)) {
            let source = "scatter of this reading's sweeps";
            budget = budget.with_scatter("repeatability of the sweeps", Hertz::new(of_mean), freedom, source);
        }
        budget
    }

    fn scale(&self) -> Db {
        let scale = self.job.bench.analyser_profile().accuracy_of("scale_fidelity");
        scale.map_or(Db::new(0.0), |figure| figure.value)
    }

    fn occupied(&self, looked: &Looked, reading: &mut Reading) {
        let (trace, share) = (looked.trace(), self.share());
        let Some(edges) = occupied(&trace, share) else { return nothing_there(reading) };
        let settings = looked.settings();
        let mut budget =
            self.budget_of_width(looked, |trace| occupied(trace, share).map(|edges| edges.width().get()));
        let noise = noise_at_input(self.job.bench.analyser_profile(), settings.rbw, settings.attenuation);
        let without = occupied_above(&trace, noise.to_watts().get() * 1e3, share);
        let by_noise = without.map_or(Hertz::new(0.0), |without| edges.width() - without.width());
        let scale = self.scale();
        let with = |out: f64| occupied(&trace, 1.0 - out).map_or(edges.width(), |edges| edges.width());
        let out = 1.0 - share;
        let by_scale =
            (with(out * (-scale).power_ratio()) - with((out * scale.power_ratio()).min(0.5))) / 2.0;
        budget = budget
            .with(
                "noise within the span",
                by_noise,
                Distribution::Rectangular,
                "the analyser's noise, taken off",
            )
            .with(
                "scale: the share left out",
                by_scale,
                Distribution::Rectangular,
                "accuracy.scale_fidelity",
            );
        let limit = self.job.occupied_limit();
        let derivation = Derivation {
            source: limit.as_ref().map_or_else(String::new, |(_, source)| source.clone()),
            steps: vec![format!(
                "{} of the power lies between {} and {}, as much below as above",
                spurline_units::Ratio::new(share),
                edges.lower,
                edges.upper
            )],
        };
        judge_in_hertz(self, reading, edges.width(), (None, limit.map(|limit| limit.0)), &budget, derivation);
    }

    fn x_db(&self, looked: &Looked, reading: &mut Reading) {
        let trace = looked.trace();
        let Some(asked) = self.job.plan.measure.spectrum.x_db.as_ref() else { return };
        let Some((_, highest)) = trace.highest() else { return nothing_there(reading) };
        let Some(edges) = x_db(&trace, highest, asked.down) else {
            reading.outcome = Outcome::Undecided;
            let text = format!("what is less than {} down goes on to the end of the span", asked.down);
            reading.reason = Some(Reason::new(ReasonCode::FloorTooHigh, text));
            return;
        };
        let scale = self.scale();
        let with = |down: Db| x_db(&trace, highest, down).map_or(edges.width(), |edges| edges.width());
        let by_scale = (with(asked.down + scale) - with(asked.down - scale)) / 2.0;
        let skirt = looked.settings().rbw * (asked.down.get() / HALF_POWER_DB).sqrt();
        let figure = |trace: &Trace<'_>| {
            let (_, highest) = trace.highest()?;
            x_db(trace, highest, asked.down).map(|edges| edges.width().get())
        };
        let budget = self
            .budget_of_width(looked, figure)
            .with("filter: its skirt so far down", skirt, Distribution::Rectangular, "the look's RBW")
            .with("scale", by_scale, Distribution::Rectangular, "accuracy.scale_fidelity");
        let file = self.job.document.source.name();
        let derivation = Derivation {
            source: format!("{file}: measure.x_db_bandwidth.at_most"),
            steps: vec![format!(
                "{} below the highest point, {highest}: from {} to {}",
                asked.down, edges.lower, edges.upper
            )],
        };
        judge_in_hertz(self, reading, edges.width(), (None, asked.at_most), &budget, derivation);
    }

    /// The carrier's power less what lies outside of its channel.
    fn channel_power(
        &self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        looked: &Looked,
        reading: &mut Reading,
    ) {
        let profile = self.job.bench.analyser_profile();
        let trace = looked.trace();
        let Some(width) = self.job.plan.measure.spectrum.channel else { return };
        let noise_bandwidth = profile.noise.bandwidth;
        let at = reading.scope.carrier;
        let inside = looked.power(at - width / 2.0, at + width / 2.0, noise_bandwidth);
        let ends = (trace.frequency(0), trace.frequency(trace.levels.len().saturating_sub(1)));
        let Some((inside, all)) = inside.zip(looked.power(ends.0, ends.1, noise_bandwidth)) else {
            return nothing_there(reading);
        };
        let level: Dbm = carrier.level + (inside - all);
        let mut budget = carrier.budget.clone();
        budget.lines.extend(ratio_budget(profile, false).lines);
        let sweeps = looked.of_sweeps(|trace| {
            let bandwidth = looked.settings().rbw * noise_bandwidth;
            let (low, high) = (at - width / 2.0, at + width / 2.0);
            spurline_judge::channel_power(trace, low, high, bandwidth).map(Dbm::get)
        });
        if let Some((of_mean, freedom)) = scatter(&sweeps) {
            let source = "scatter of this reading's sweeps";
            let line = Contribution::new(
                "repeatability of the sweeps",
                Db::new(of_mean),
                Distribution::Standard,
                source,
            );
            budget.lines.push(line.with_freedom(freedom));
        }
        let window = case.power.window;
        let spread = Spread::of(&budget);
        reading.figure =
            Some(Figure { value: level.to_watts().get(), unit: Unit::W, level: Some(level), bound: false });
        reading.budget = Some(conversion::budget(&budget));
        reading.proof.width = Some(width);
        let (low, high) = (window.low(), window.high());
        reading.limit = Some(Limit::Window { low: low.watts().get(), high: high.watts().get() });
        reading.derivation = Derivation {
            source: format!("{}: power of `{}`", self.job.document.source.name(), case.power.name),
            steps: vec![format!("{} of the carrier's {} within {width}", inside - all, carrier.level)],
        };
        let in_dbm = Range::new(low.dbm(), high.dbm()).expect("watts and dBm have the same order");
        let decision = judge_window(level, in_dbm, &spread, conversion::rule(&self.job.plan));
        reading.margin = Some(decision.margin.into());
        reading.conformance_probability = Some(decision.conformance_probability);
        (reading.outcome, reading.reason) = match decision.verdict {
            Verdict::Complies => (Outcome::Complies, None),
            Verdict::Exceeds => (Outcome::Exceeds, None),
            Verdict::Undecided => {
                let text = "the edge of the window lies within the uncertainty";
                (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
            }
        };
    }
}

pub(super) fn with_scatter(budget: HertzBudget, sweeps: &[f64]) -> HertzBudget {
    match scatter(sweeps) {
        None => budget,
        Some((of_mean, freedom)) => {
            let source = "scatter of this reading's sweeps";
            budget.with_scatter("repeatability of the sweeps", Hertz::new(of_mean), freedom, source)
        }
    }
}

pub(super) fn nothing_there(reading: &mut Reading) {
    reading.outcome = Outcome::Invalid;
    let text = "the trace shows no emission that could be read";
    reading.reason = Some(Reason::new(ReasonCode::CarrierInvalid, text));
}

pub(super) fn no_reference(reading: &mut Reading) {
    reading.outcome = Outcome::Undecided;
    let text =
        "the analyser's profile does not say how good its frequencies are: state `frequency_reference`";
    reading.reason = Some(Reason::new(ReasonCode::TooUncertain, text));
}
