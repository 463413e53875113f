//! The search for spurious emissions: what the sweeps show, what is looked at again, what it is, and what the search
//! as a whole can say.

mod again;
mod candidate;
mod family;
mod moved;
pub(crate) mod peaks;
mod products;
mod reading;
mod skirt;
mod sort;
mod spectrum;
mod sweeps;

use spurline_plan::{Extent, MOST_LINES, SearchLayout};
use spurline_record::{Acquisition, Outcome, Quantity, Reason};
use spurline_units::{Dbm, Hertz};

pub(crate) use again::{SearchedAgain, family_again, segment_of};
pub(crate) use candidate::Candidate;
pub(crate) use sweeps::Piece;

use crate::ambient::shows_line;
use crate::fault::RunFault;
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};
use crate::work::Work;
use sort::{Found, Sorted};

/// What a search has come to so far.
#[derive(Debug, Default)]
pub(crate) struct Searching {
    layout: Option<SearchLayout>,
    swept: Vec<Swept>,
    /// Why nothing that was swept says anything.
    doubt: Option<Reason>,
    /// The strongest lines that the sweeps showed, at the analyser's input.
    strong: Vec<(Hertz, Dbm)>,
    /// Peaks of the sweeps that were not there any more, with their levels at the connector.
    unseen: Vec<(Hertz, Dbm)>,
    /// Lines that a closer look showed without the key as well.
    there: Vec<(Hertz, Dbm)>,
    /// Where such a look showed no line any more, and no more than this.
    gone: Vec<(Hertz, Dbm)>,
    /// Where such a look was taken at what a sweep had shown without the key, and how far about there.
    closer: Vec<(Hertz, Hertz)>,
    /// Lines that the analyser makes.
    responses: Vec<(Hertz, Dbm)>,
    /// Expected places with nothing there.
    empty: Vec<String>,
}

/// One sweep, held, with and without the key.
#[derive(Debug)]
struct Swept {
    segment: usize,
    keyed: Acquisition,
    unkeyed: Acquisition,
    /// The same with the unit off, where something was there without the key.
    off: Option<Acquisition>,
    fault: Option<Reason>,
}

impl Searching {
    /// Nothing that was swept with this carrier says anything.
    pub(crate) fn doubt(&mut self, reason: &Reason) {
        self.doubt = Some(reason.clone());
    }
}

impl Measuring<'_, '_> {
    /// Sorts what the sweeps showed, looks again at what may be the unit's, finds out what it goes by, and says what
    /// the search was worth.
    pub(crate) async fn finish_search(
        &mut self,
        case: &Case<'_>,
        carrier: &Result<MeasuredCarrier, Reason>,
    ) -> Result<(), RunFault> {
        if case.extent != Extent::Everything {
            return Ok(());
        }
        let Some(layout) = self.job.search(case.channel, case.power)? else { return Ok(()) };
        let carrier = match carrier {
            Ok(carrier) => carrier,
            Err(reason) => return self.no_search(case, reason),
        };
        self.look_with_the_unit_off(case).await?;
        let mut sorted = Sorted::of(self.job, &layout, &self.done.search.swept, carrier)?;
        self.done.search.strong = sorted.strong(&self.done.held, self.job)?;
        let first = self.done.held.len();
        if self.done.search.doubt.is_none() {
            self.look_behind(carrier, &mut sorted)?;
            let works = self.candidates(case, &mut sorted).await?;
            if !works.is_empty() {
                let way = self.job.harmonics_way();
                let again = self.key_downs(case, way, Some(carrier.clone()), works).await?;
                if let Err(reason) = again {
                    self.done.search.doubt(&reason);
                }
            }
            self.done.search.layout = Some(layout.clone());
            self.tell_families(case, first).await?;
        }
        let reading = self.search_reading(case, carrier, &layout, &sorted)?;
        self.finish(reading)
    }

    /// The search of a scope whose carrier could not be measured.
    pub(crate) fn no_search(&mut self, case: &Case<'_>, reason: &Reason) -> Result<(), RunFault> {
        if self.job.plan.measure.search.is_none() || case.extent != Extent::Everything {
            return Ok(());
        }
        let mut reading = self.blank_of(case, self.job.harmonics_way(), Quantity::Search);
        reading.reason = Some(reason.clone());
        reading.outcome = Outcome::Invalid;
        self.finish(reading)
    }

    /// What is there without the key and hides whether the unit's would comply is looked at closer, with and without the
    /// key: with less attenuation a response of the analyser's own falls, and a narrower filter shows what stands beside.
    fn look_behind(&mut self, carrier: &MeasuredCarrier, sorted: &mut Sorted) -> Result<(), RunFault> {
        for found in std::mem::take(&mut sorted.hiding) {
            let same = |other: &Found| (other.frequency - found.frequency).get().abs() <= found.rbw.get();
            let room = sorted.candidates.len() < MOST_LINES && !sorted.candidates.iter().any(same);
            if room && self.hides(carrier, found.frequency, found.level + found.loss)? {
                sorted.candidates.push(found);
            }
        }
        Ok(())
    }

    /// The works that look again at what the sweeps showed.
    async fn candidates(&mut self, case: &Case<'_>, sorted: &mut Sorted) -> Result<Vec<Work>, RunFault> {
        let mut works = Vec::new();
        if !sorted.candidates.is_empty() {
            self.doing("look at what was found, not keyed")?;
        }
        for found in std::mem::take(&mut sorted.candidates) {
            works.push(Work::Candidate(Box::new(self.planned_candidate(case, found).await?)));
        }
        Ok(works)
    }

    /// Names what was confirmed; what is none of the unit's is no reading of the unit.
    async fn tell_families(&mut self, case: &Case<'_>, first: usize) -> Result<(), RunFault> {
        let of_search = |held: &spurline_record::Reading| held.quantity == Quantity::Spurious;
        let mut places: Vec<usize> = (first..self.done.held.len())
            .filter(|place| of_search(&self.done.held[*place]) && shows_line(&self.done.held[*place]))
            .collect();
        // What came from somewhere else has no family.
        places.retain(|place| self.done.held[*place].outcome != Outcome::Invalid);
        let motions = self.motions(case, &places).await?;
        family::tell(self.job, case.channel, self.done, &places, &motions);
        Ok(())
    }
}
