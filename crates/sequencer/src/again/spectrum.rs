//! The carrier's own spectrum, judged again.

use spurline_path::PathError;
use spurline_plan::SpectrumTask;
use spurline_record::{Outcome, Reading, Reason, ReasonCode};

use super::looks::{Looks, blank};
use super::state::InState;
use crate::possible::MeasuredCarrier;
use crate::spectrum::{Judging, Seen};

/// A task whose readings are judged together, once the end of the key-down is known.
pub(super) struct Spectrum {
    pub(super) count: usize,
    seen: Seen,
    /// Whether it was looked at once more after key up.
    after: bool,
    /// Whether such looks are of any use.
    beside: bool,
}

impl InState<'_> {
    /// The task that readings were made for, the first of them at the front; `None` if they are of no such task, or its
    /// looks are not all there.
    pub(super) fn spectrum(
        &self,
        carrier: &MeasuredCarrier,
        recorded: &[Reading],
        looks: &Looks,
    ) -> Result<Option<Spectrum>, PathError> {
        let tasks = self.job.spectrum_tasks(self.case.channel, self.case.power)?;
        let quantities = |task: &SpectrumTask| -> Vec<_> {
            self.job.asked_of(task, self.case.channel).iter().map(|asked| asked.quantity).collect()
        };
        let is_it = |task: &SpectrumTask| {
            let asked = quantities(task);
            recorded.len() >= asked.len()
                && asked.iter().zip(recorded).all(|(asked, reading)| *asked == reading.quantity)
        };
        let Some(task) = tasks.into_iter().find(is_it) else { return Ok(None) };
        let count = quantities(&task).len();
        let beside = matches!(task, SpectrumTask::Mask { .. } | SpectrumTask::Adjacent { .. });
        let needed = match task {
            SpectrumTask::Emission(_) => 1,
            SpectrumTask::Mask { .. } | SpectrumTask::Frequency { .. } => 2,
            SpectrumTask::Adjacent { .. } => 3,
        };
        if looks.keyed.len() != needed || count == 0 {
            return Ok(None);
        }
        let seen = Seen::of(task, carrier.clone(), looks.keyed.clone(), looks.before.clone());
        Ok(Some(Spectrum { count, seen, after: !looks.after.is_empty(), beside }))
    }

    /// The readings before they are judged.
    pub(super) fn spectrum_blanks(&self, spectrum: &Spectrum, recorded: &[Reading]) -> Vec<Reading> {
        let asked = self.job.asked_of(spectrum.seen.task(), self.case.channel);
        let readings = asked.into_iter().zip(recorded).map(|(asked, recorded)| Reading {
            name: asked.name,
            frequency: asked.frequency,
            ..blank(recorded)
        });
        let mut readings: Vec<Reading> = readings.collect();
        readings.iter_mut().for_each(|reading| spectrum.seen.not_judged_yet(reading));
        readings
    }

    /// Judges them, with what was seen after key up.
    pub(super) fn judge_spectrum(
        &self,
        mut spectrum: Spectrum,
        mut readings: Vec<Reading>,
        recorded: &[Reading],
    ) -> Result<Vec<Reading>, PathError> {
        if spectrum.after {
            let after = Looks::of(&recorded[0]).after;
            for reading in &mut readings {
                reading.acquisitions.extend(after.iter().cloned());
            }
            spectrum.seen.also_unkeyed(after);
        }
        let mut readings = Judging { job: self.job }.seen(&self.case, &spectrum.seen, readings)?;
        if spectrum.beside && !spectrum.after {
            for reading in readings.iter_mut().filter(|reading| reading.outcome == Outcome::Exceeds) {
                let text = "above its limit, but nobody looked whether it is still there after key up: the run had no reason \
                            to; measure it again";
                (reading.outcome, reading.reason) =
                    (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)));
            }
        }
        Ok(readings)
    }
}
