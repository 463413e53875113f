//! The lines that a search found, judged again: what its sweeps showed is sorted anew, as far as a closer look at a line
//! needs it.

use spurline_path::PathError;
use spurline_plan::{Job, SearchLayout, found_within};
use spurline_record::{Acquisition, AnalyserSettings, Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Dbm, Hertz};

use super::Swept;
use super::family::{is_doubt, is_told};
use super::products;
use super::sort::{Found, Sorted};
use super::sweeps::{KEYED, OFF, UNKEYED};
use crate::line::{Line, LineCase};
use crate::possible::{self, MeasuredCarrier};
use crate::scope::Case;

/// What the sweeps of a recorded search show.
pub(crate) struct SearchedAgain {
    /// Everything that may have been looked at closer.
    found: Vec<Found>,
    /// The strongest lines at the analyser's input.
    strong: Vec<(Hertz, Dbm)>,
}

impl SearchedAgain {
    /// Sorts the sweeps of the reading `search`, which was made with the job `was`; `None` if they are not all there, or not
    /// those of its layout. The lines of `harmonics` are as they are now.
    pub(crate) fn of(
        (job, was): (&Job, &Job),
        layout: &SearchLayout,
        search: &Reading,
        carrier: &MeasuredCarrier,
        harmonics: &[Reading],
    ) -> Result<Option<Self>, PathError> {
        let Some(swept) = swept(layout, &search.acquisitions) else { return Ok(None) };
        if was.plan.measure.search.is_none() {
            return Ok(None);
        }
        // What was looked at was chosen in the run.
        let sorted = Sorted::of(was, layout, &swept, carrier)?;
        let strong = sorted.strong(harmonics, job)?;
        let Sorted { candidates, hiding, cut, .. } = sorted;
        let found = candidates.into_iter().chain(hiding).chain(cut).collect();
        Ok(Some(Self { found, strong }))
    }

    /// A line from its closer looks, the unkeyed one first, and whether more looks would be asked for; `None` if the sweeps show
    /// nothing at its place.
    pub(crate) fn line(
        &self,
        job: &Job,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        (unkeyed, keyed): (&Acquisition, &[Acquisition]),
        blank: Reading,
    ) -> Result<Option<(Reading, bool)>, PathError> {
        let at = blank.frequency;
        let off = |found: &&Found| (found.frequency - at).get().abs();
        let near = self.found.iter().filter(|found| off(found) <= found_within(found.rbw).get());
        let Some(found) = near.min_by(|one, other| off(one).total_cmp(&off(other))) else { return Ok(None) };
        let task = job.spurious_task(case.channel, case.power, found.frequency, found.rbw, found.level)?;
        let possible = possible::limits(job, carrier, at);
        let own = products::of_carrier(job, carrier, &self.strong, at, found.rbw)?;
        let of_line = LineCase::new(job, &task, carrier, &possible);
        let of_line = LineCase { frequency: at, reference: found.reference, own, ..of_line };
        let mut line = Line::new(of_line, vec![unkeyed.clone()], found.source)?;
        for look in keyed {
            line.add(look.clone())?;
        }
        let more = line.hindrance()?.is_some();
        Ok(Some((line.finish(blank)?, more)))
    }
}

/// Which segment of a search a sweep with these settings belongs to.
pub(crate) fn segment_of(layout: &SearchLayout, settings: &AnalyserSettings) -> Option<usize> {
    layout.segments.iter().position(|segment| {
        segment.rbw == settings.rbw
            && segment.attenuation == settings.attenuation
            && (segment.from..=segment.to).contains(&settings.centre)
    })
}

/// The sweeps of a search, out of its looks: each without the key, with it, and with the unit off where that was looked at.
fn swept(layout: &SearchLayout, looks: &[Acquisition]) -> Option<Vec<Swept>> {
    let mut swept: Vec<Swept> = Vec::new();
    let mut before: Option<&Acquisition> = None;
    for look in looks {
        match (look.purpose.as_str(), look.keyed) {
            (UNKEYED, false) => before = Some(look),
            (KEYED, true) => {
                let segment = segment_of(layout, &look.settings)?;
                let (unkeyed, keyed) = (before.take()?.clone(), look.clone());
                swept.push(Swept { segment, keyed, unkeyed, off: None, fault: None });
            }
            (OFF, false) => swept.last_mut()?.off = Some(look.clone()),
            _ => return None,
        }
    }
    (!swept.is_empty()).then_some(swept)
}

/// Puts what a line goes by into its reading: how it moves with the carrier was looked at in the run, and is kept in words.
pub(crate) fn family_again(recorded: &Reading, reading: &mut Reading) {
    let doubt = |reason: &&Reason| reason.code == ReasonCode::AnalyserResponse;
    let of_reason = recorded.reason.as_ref().filter(doubt).map(|reason| reason.text.clone());
    let told: Vec<String> =
        recorded.remarks.iter().filter(|remark| is_told(remark)).cloned().chain(of_reason).collect();
    for words in told {
        if reading.outcome == Outcome::Exceeds && is_doubt(&words) {
            reading.outcome = Outcome::Undecided;
            reading.reason = Some(Reason::new(ReasonCode::AnalyserResponse, words));
        } else {
            reading.remarks.push(words);
        }
    }
}
