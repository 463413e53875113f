//! One line that a sweep showed, looked at as a harmonic is.

use spurline_plan::{LineTask, Look, first_look, found_within, suited};
use spurline_record::{Acquisition, Quantity, Reading};
use spurline_units::{Db, Dbm, Hertz};

use super::products;
use super::skirt::is_in_view_of_another;
use super::sort::Found;
use crate::ambient::{BEFORE, shows_line};
use crate::fault::RunFault;
use crate::key_down::Left;
use crate::line::{Line, LineCase, Unkeyed};
use crate::possible::{self, MeasuredCarrier};
use crate::scope::{Case, Measuring};
use crate::trace;

/// A keyed line that stands less above what was there without the key is not told from it.
const SAME: Db = Db::new(6.0);

/// A line that is to be looked at again, with a look without the key.
pub(crate) struct Candidate {
    found: Found,
    task: LineTask,
    pub(crate) look: Look,
    unkeyed: Acquisition,
}

impl Measuring<'_, '_> {
    /// Chooses how a line is looked at, and looks there with the key up.
    pub(super) async fn planned_candidate(
        &mut self,
        case: &Case<'_>,
        found: Found,
    ) -> Result<Candidate, RunFault> {
        let Found { frequency, rbw, .. } = found;
        // What hides the unit's is looked at for what the unit's may be.
        let level = found.limit.filter(|_| found.hides).map_or(found.level, |limit| limit - found.loss);
        let task = self.job.spurious_task(case.channel, case.power, frequency, rbw, level)?;
        let profile = self.job.bench.analyser_profile();
        let task = if found.hides { task.with_least_attenuation(profile) } else { task };
        let look = suited(first_look(profile, &task), &self.job.plan.modulation);
        let unkeyed = self.look(BEFORE, &look).await?;
        Ok(Candidate { found, task, look, unkeyed })
    }

    /// Looks at the line until it is decided; no reading if there is none.
    pub(crate) async fn candidate(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        candidate: Candidate,
        left: Left,
    ) -> Result<Vec<Reading>, RunFault> {
        let Candidate { found, task, look, unkeyed } = candidate;
        self.doing(&format!("a line at {}", found.frequency))?;
        let first = self.keyed_look("spurious emission", &look).await?;
        let Some(at) = highest(&first, found.frequency, found_within(found.rbw)) else {
            self.unseen(&found);
            return Ok(Vec::new());
        };
        if self.is_another_sweeps(&found, at) {
            // Whether anything stands beside it in view of its own sweep it hides.
            self.unseen(&found);
            return Ok(Vec::new());
        }
        let possible = possible::limits(self.job, carrier, at);
        let own = products::of_carrier(self.job, carrier, &self.done.search.strong, at, found.rbw)?;
        let of_line = LineCase::new(self.job, &task, carrier, &possible);
        let of_line = LineCase { frequency: at, reference: found.reference, own, ..of_line };
        let before = Unkeyed::at(self.job, at, 1, Hertz::new(0.0), &unkeyed)?;
        let line = Line::new(of_line, vec![unkeyed], found.source)?;
        let line = self.looked_until_decided(line, &task, vec![look], Some(first), left).await?;
        let mut blank = self.blank_of(case, self.job.harmonics_way(), Quantity::Spurious);
        blank.frequency = at;
        let reading = line.finish(blank)?;
        if found.hides {
            self.done.search.closer.push((found.frequency, found.rbw));
            if let Some(level) = reading.level().filter(|_| !before.is_line) {
                self.done.search.gone.push((at, level));
                return Ok(Vec::new());
            }
        }
        if let Some(level) = reading.level().filter(|level| before.is_line && *level - before.level < SAME) {
            // Narrower than the sweep, the look shows that it was there without the key as well.
            self.done.search.there.push((at, level));
            return Ok(Vec::new());
        }
        if shows_line(&reading) {
            return Ok(vec![reading]);
        }
        self.unseen(&found);
        Ok(Vec::new())
    }

    /// Whether a line stands beyond the sweep that showed it, where another sweep has it in view and shows it.
    fn is_another_sweeps(&self, found: &Found, at: Hertz) -> bool {
        let (swept, Some(search)) = (&self.done.search.swept, &self.job.plan.measure.search) else {
            return false;
        };
        let own = &swept[found.sweep].keyed.settings;
        let beyond = (at - own.centre).get().abs() - own.span.get() / 2.0;
        let others = swept.iter().map(|swept| &swept.keyed);
        beyond > own.spacing().get()
            && is_in_view_of_another(at, found.rbw, others, (search.excursion, search.holds))
    }

    fn unseen(&mut self, found: &Found) {
        match &found.expected {
            Some(what) => self.done.search.empty.push(what.clone()),
            None if found.sure => self.done.search.unseen.push((found.frequency, found.level + found.loss)),
            // Of so many points of noise some stand out.
            None => {}
        }
    }
}

/// Where the highest of a look stands near a frequency.
fn highest(look: &Acquisition, near: Hertz, within: Hertz) -> Option<Hertz> {
    let mean = trace::mean_power(&look.sweeps);
    let levels = trace::smoothed(&mean, spurline_plan::reach(&look.settings));
    trace::peak(&levels, &look.settings, near, within).map(|peak| peak.frequency)
}

/// The level of a line at a frequency in a look, if one stands there.
pub(super) fn level_at(look: &Acquisition, at: Hertz, within: Hertz) -> Option<Dbm> {
    let (peak, floor) = trace::line_near(look, at, within, Db::default())?;
    trace::is_clear(&floor?).then_some(peak.level)
}
