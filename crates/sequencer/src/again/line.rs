//! A line, judged again from its looks.

use spurline_path::PathError;
use spurline_plan::{Approach, LineTask};
use spurline_record::{Outcome, Quantity, Reading, Reason, ReasonCode};

use super::looks::{Looks, blank};
use super::state::InState;
use crate::ambient::{self, Afterwards, Source, due_afterwards, judge_afterwards};
use crate::leak::{judge_leak, matters, not_looked_for, why_not};
use crate::line::{Line, LineCase, Unkeyed};
use crate::possible::{self, MeasuredCarrier};
use crate::search::SearchedAgain;

impl InState<'_> {
    /// A harmonic whose looks are there.
    pub(super) fn harmonic(
        &self,
        carrier: &MeasuredCarrier,
        recorded: &Reading,
        looks: &Looks,
    ) -> Result<Reading, PathError> {
        let order = recorded.order.unwrap_or(1);
        let mut reading = blank(recorded);
        // What was read must be brought to the connector: a table that does not reach so far is none for this run.
        self.job.harmonics_way().branch.path.loss_at(recorded.frequency)?;
        let task = match self.approach(order)? {
            Approach::Within { task, .. } => task,
            Approach::Beyond(why) => {
                // It was looked at, by an analyser that this bench has not.
                possible::beyond(self.job, Some(carrier), &why, &mut reading);
                reading.acquisitions = recorded.acquisitions.clone();
                return Ok(reading);
            }
        };
        let possible = possible::limits(self.job, carrier, task.frequency);
        let case = LineCase::new(self.job, &task, carrier, &possible);
        let source = self.source(&task, looks)?;
        let before = looks.before.first().cloned();
        let unkeyed = before.into_iter().flat_map(|before| ambient::looks(before, looks.off.clone()));
        let mut line = Line::new(case, unkeyed.collect(), source)?;
        for look in &looks.keyed {
            line.add(look.clone())?;
        }
        let more = line.hindrance()?.is_some();
        Ok(asked_for_more(line.finish(reading)?, more, recorded))
    }

    /// A line that a search found, from the closer looks at it; `None` if the sweeps do not show what was looked at.
    pub(super) fn spurious(
        &self,
        searching: &SearchedAgain,
        carrier: &MeasuredCarrier,
        recorded: &Reading,
        looks: &Looks,
    ) -> Result<Option<Reading>, PathError> {
        self.job.harmonics_way().branch.path.loss_at(recorded.frequency)?;
        let Some(unkeyed) = looks.before.first() else { return Ok(None) };
        let looks = (unkeyed, looks.keyed.as_slice());
        let line = searching.line(self.job, &self.case, carrier, looks, blank(recorded))?;
        Ok(line.map(|(reading, more)| asked_for_more(reading, more, recorded)))
    }

    /// A harmonic that was not looked at, because it is beyond the bench.
    pub(super) fn not_reached(&self, recorded: &Reading) -> Result<Reading, PathError> {
        let was = recorded.reason.as_ref().filter(|reason| reason.code == ReasonCode::BeyondThisBench);
        let why = match self.approach(recorded.order.unwrap_or(1))? {
            Approach::Beyond(why) => why,
            Approach::Within { .. } => {
                let was = was.map_or("", |reason| reason.text.trim_start_matches(possible::BEYOND));
                format!("it was not looked at in the run, {was}")
            }
        };
        let mut reading = blank(recorded);
        possible::beyond(
            self.job,
            self.ways_carrier.as_ref().and_then(|carrier| carrier.as_ref().ok()),
            &why,
            &mut reading,
        );
        Ok(reading)
    }

    fn approach(&self, order: u32) -> Result<Approach, PathError> {
        let (channel, power) = (self.case.channel, self.case.power);
        self.job.approach(channel, power, order, &self.job.findings_over_window(channel, power, order))
    }

    /// Whose it is that was there before the key.
    fn source(&self, task: &LineTask, looks: &Looks) -> Result<Source, PathError> {
        let Some((before, off)) = looks.before.first().zip(looks.off.as_ref()) else {
            return Ok(Source::Unknown);
        };
        let at = |look| Unkeyed::at(self.job, task.frequency, task.order, task.occupied, look);
        Ok(Source::of(&at(before)?, &at(off)?))
    }

    /// What the looks after key up say of a line, and what it lacks without one.
    pub(super) fn afterwards(&self, reading: &mut Reading, looks: &Looks) -> Result<(), PathError> {
        if let Some(after) = looks.after.first() {
            return judge_afterwards(self.job, reading, after.clone());
        }
        match due_afterwards(reading) {
            Some(Afterwards::Open) if reading.outcome == Outcome::Exceeds => {
                let text = "above its limit, but nobody looked whether it is still there after key up: the run had no reason \
                            to; measure it again";
                (reading.outcome, reading.reason) =
                    (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)));
            }
            Some(Afterwards::Unlike) => {
                let text = "it complies only if no noise comes with the key, and nobody looked after key up";
                (reading.outcome, reading.reason) =
                    (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)));
            }
            Some(Afterwards::Open) | None => {}
        }
        Ok(())
    }

    /// What the look with the unit on its load says of a line, and what it lacks without one.
    pub(super) fn leaks(&self, reading: &mut Reading, looks: &Looks) -> Result<(), PathError> {
        if let Some(load) = &looks.load {
            return judge_leak(self.job, &self.case.channel.name, reading, load.clone());
        }
        if !matters(reading) {
            return Ok(());
        }
        if let Some(why) = why_not(self.job) {
            not_looked_for(reading, why);
        } else if reading.outcome == Outcome::Exceeds {
            let text = "above its limit, but nobody looked whether it leaks to the analyser: the run had no reason to; measure \
                        it again";
            (reading.outcome, reading.reason) =
                (Outcome::Undecided, Some(Reason::new(ReasonCode::NotLookedAt, text)));
        } else {
            reading.remarks.push("nobody looked whether it leaks to the analyser behind the pad".to_owned());
        }
        Ok(())
    }
}

/// Says of a line that is undecided only now that the run did not look at it often enough.
fn asked_for_more(mut reading: Reading, more: bool, recorded: &Reading) -> Reading {
    if more && reading.outcome == Outcome::Undecided && recorded.outcome != Outcome::Undecided {
        let text = "the limit asks for more looks than the run took: a new measurement may decide it";
        reading.remarks.push(text.to_owned());
    }
    reading
}

/// Whether a reading is a line of its own.
pub(super) fn is_line(reading: &Reading) -> bool {
    matches!(reading.quantity, Quantity::Harmonic | Quantity::Spurious)
}
