//! The readings of a modulation: what was measured against its limits, and how a set-up went.

use spurline_judge::{HertzSpread, Verdict, judge_hertz};
use spurline_plan::{Job, Look, MODULATION_AGREES, Modulation, ModulationFact, ModulationMeasure, lines_of};
use spurline_record::{
    Acquisition, Budget, Column, Derivation, Figure, Limit, Margin, Outcome, Quantity, Reading, Reason,
    ReasonCode, Series, Unit,
};
use spurline_units::{Hertz, Volts};

use super::lines::{self, Seen, show};
use crate::conversion;
use crate::fault::RunFault;
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};

/// One try of a set-up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Try {
    pub(super) tone: Hertz,
    pub(super) level: Volts,
    /// In hertz, or as a share.
    pub(super) made: f64,
}

/// The quantity of a fact.
pub(super) fn quantity(fact: ModulationFact) -> Quantity {
    match fact {
        ModulationFact::Deviation => Quantity::Deviation,
        ModulationFact::Depth => Quantity::ModulationDepth,
    }
}

/// The unit of its figures, and what a figure of ours is multiplied by for it.
pub(super) fn unit(fact: ModulationFact) -> (Unit, f64) {
    match fact {
        ModulationFact::Deviation => (Unit::Hz, 1.0),
        ModulationFact::Depth => (Unit::Percent, 100.0),
    }
}

/// Puts figure and uncertainty into a reading.
pub(super) fn fill(reading: &mut Reading, seen: &Seen) {
    let (unit, factor) = unit(seen.fact);
    reading.quantity = quantity(seen.fact);
    reading.figure = Some(Figure { value: seen.figure * factor, unit, level: None, bound: false });
    reading.budget = Some(Budget { unit, ..conversion::budget(seen.budget.figures()) });
    reading.remarks.extend(seen.remarks.iter().cloned());
}

/// The tries of a set-up as columns.
pub(super) fn series(fact: ModulationFact, tries: &[Try]) -> Series {
    let (unit, factor) = unit(fact);
    let column = |name: &str, unit, of: &dyn Fn(&Try) -> f64| Column {
        name: name.to_owned(),
        unit,
        values: tries.iter().map(|one| Some(of(one))).collect(),
    };
    let made = match fact {
        ModulationFact::Deviation => "deviation",
        ModulationFact::Depth => "depth",
    };
    Series {
        columns: vec![
            column("level at the microphone input", Unit::V, &|one| one.level.get()),
            column(made, unit, &|one| one.made * factor),
            column("tone", Unit::Hz, &|one| one.tone.get()),
        ],
    }
}

/// Whether what was measured is what the plan says; in words if it is not.
fn disagreement(job: &Job, seen: &Seen) -> Option<String> {
    let declared = match job.plan.modulation {
        Modulation::Tone { deviation, .. } => deviation.get(),
        Modulation::Am { depth, .. } => depth,
        Modulation::None | Modulation::Burst { .. } => return None,
    };
    let expanded = HertzSpread::of(&seen.budget).expanded().get()
        / if seen.fact == ModulationFact::Depth { 100.0 } else { 1.0 };
    let apart = (seen.figure - declared).abs();
    (apart > declared * MODULATION_AGREES + expanded).then(|| {
        format!(
            "the modulation is not what is declared: {} where {} is said; looks were chosen for what is said",
            seen.show(seen.figure),
            seen.show(declared)
        )
    })
}

/// Judges a fact against its limits.
fn judge(job: &Job, measure: &ModulationMeasure, seen: &Seen, reading: &mut Reading) {
    let (unit, factor) = unit(seen.fact);
    let (low, high) = (measure.at_least.map(|low| low * factor), measure.at_most.map(|high| high * factor));
    reading.derivation = Derivation {
        source: format!("{}: measure.modulation", job.document.source.name()),
        steps: [
            measure.at_least.map(|low| format!("the plan wants at least {}", show(seen.fact, low))),
            measure.at_most.map(|high| format!("the plan wants at most {}", show(seen.fact, high))),
        ]
        .into_iter()
        .flatten()
        .collect(),
    };
    let spread = HertzSpread::of(&seen.budget);
    let hertz = |figure: f64| Hertz::new(figure);
    // A share is judged in hundredths, one of which stands for one hertz: the arithmetic is the same.
    let decision = judge_hertz(
        hertz(seen.figure * factor),
        low.map(hertz),
        high.map(hertz),
        &spread,
        conversion::rule(&job.plan),
    );
    let Some(decision) = decision else {
        reading.outcome = Outcome::NoLimit;
        reading.reason = Some(Reason::new(ReasonCode::NoNumericLimit, "the plan names no limit for it"));
        return;
    };
    reading.limit = Some(Limit::Between { low, high, unit });
    reading.margin = Some(Margin { value: decision.margin.get(), unit });
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => {
            let side = if high.is_some_and(|high| seen.figure * factor > high) { "above" } else { "below" };
            let text = format!("{} is {side} what the plan allows", seen.show(seen.figure));
            (Outcome::Exceeds, Some(Reason::new(ReasonCode::OutsideWindow, text)))
        }
        Verdict::Undecided => {
            let text = "the limit lies within the uncertainty of the figure";
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    };
}

impl Measuring<'_, '_> {
    /// Measures what the plan wants to know of the modulation.
    pub(crate) async fn modulation(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        measure: ModulationMeasure,
        look: &Look,
    ) -> Result<Reading, RunFault> {
        self.doing("modulation")?;
        let seen = self.keyed_look("modulation", look).await?;
        let mut reading = self.blank_modulation(case, measure.fact);
        if let Some(level) = carrier.at_analyser {
            reading.proof.mixer_level = Some(level - look.settings.attenuation);
        }
        judge_look(self.job, &measure, &seen, &mut reading);
        reading.acquisitions = vec![seen];
        Ok(reading)
    }

    /// A reading of the modulation that says nothing yet.
    pub(crate) fn blank_modulation(&self, case: &Case<'_>, fact: ModulationFact) -> Reading {
        Reading { quantity: quantity(fact), ..self.blank(case, self.job.carrier_way(), None) }
    }
}

/// Judges a look at the modulation.
pub(crate) fn judge_look(job: &Job, measure: &ModulationMeasure, look: &Acquisition, reading: &mut Reading) {
    let modulation = &job.plan.modulation;
    let invalid = |code, text: String| Some(Reason::new(code, text));
    reading.outcome = Outcome::Invalid;
    if look.flags.overload {
        reading.reason = invalid(ReasonCode::Overload, "the analyser was overloaded".to_owned());
        return;
    }
    if look.flags.uncalibrated {
        let text = "the analyser swept too fast for its bandwidth";
        reading.reason = invalid(ReasonCode::Uncalibrated, text.to_owned());
        return;
    }
    let tone = modulation.tone();
    let seen = tone.and_then(|tone| lines::seen(job, look, tone, measure.fact, lines_of(modulation)));
    let (Some(tone), Some(seen)) = (tone, seen) else {
        let text = "no lines are to be seen at the carrier";
        reading.reason = invalid(ReasonCode::ModulationDisagrees, text.to_owned());
        return;
    };
    fill(reading, &seen);
    if !seen.is_there(tone) {
        let text =
            format!("nothing modulates the carrier at {tone}, although the plan says so: is the tone on?");
        reading.reason = invalid(ReasonCode::ModulationDisagrees, text);
        return;
    }
    if let Some(complaint) = &seen.complaint {
        reading.reason = invalid(ReasonCode::ModulationDisagrees, complaint.clone());
        return;
    }
    judge(job, measure, &seen, reading);
    reading.remarks.extend(disagreement(job, &seen));
}
