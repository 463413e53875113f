//! One channel and power setting, judged again: its key-downs one after the other, each with its carrier first.

use spurline_path::PathError;
use spurline_plan::{Job, ModulationFact, SetUpAim, Way, set_up_looks};
use spurline_record::{JudgedFrom, Outcome, Quantity, Reading, Reason, ReasonCode, VerdictReading};

use super::line::is_line;
use super::looks::{Looks, begins_key_down, blank, is_of_a_state};
use super::spectrum::Spectrum;
use super::{corrected, raw, recorded as as_recorded};
use crate::carrier::{changed, over_time_again};
use crate::key_down::{holds_the_beginning, told_of_change};
use crate::modulation::{SET_UP, judge_look, seen as modulation_seen};
use crate::possible::MeasuredCarrier;
use crate::scope::Case;
use crate::search::{SearchedAgain, family_again};
use crate::verify::has_changed;

/// What a set-up has found, for the power settings of its channel that come after it.
#[derive(Default)]
pub(super) struct Kept {
    jobs: Option<(String, Option<String>, Box<Job>)>,
}

/// One channel and power setting, with what is known of its carrier so far.
pub(super) struct InState<'a> {
    pub(super) job: &'a Job,
    pub(super) was: &'a Job,
    pub(super) case: Case<'a>,
    /// That of the last key-down.
    pub(super) carrier: Option<Result<MeasuredCarrier, Reason>>,
    /// That of the last key-down which is not for lines that a search found.
    pub(super) ways_carrier: Option<Result<MeasuredCarrier, Reason>>,
    kept: &'a mut Kept,
}

/// A key-down while it is worked through.
struct KeyDown {
    judged: Vec<VerdictReading>,
    /// Spectra that are judged once the end is known, and where their first readings stand.
    spectra: Vec<(usize, Spectrum)>,
}

/// Whether two readings belong to one state of the run.
pub(super) fn are_of_one(one: &Reading, other: &Reading) -> bool {
    let (of, other_of) = (&one.scope, &other.scope);
    is_of_a_state(one) == is_of_a_state(other)
        && of.channel == other_of.channel
        && of.power_setting == other_of.power_setting
        && of.supply == other_of.supply
}

impl<'a> InState<'a> {
    /// The state of a reading; `None` if the plan knows none such, as between the voltages of a series.
    pub(super) fn of(job: &'a Job, was: &'a Job, reading: &Reading, kept: &'a mut Kept) -> Option<Self> {
        let scope = &reading.scope;
        let state = job.states().into_iter().find(|state| {
            state.channel.name == scope.channel
                && state.power.name == scope.power_setting
                && state.supply.map(|supply| &supply.name) == scope.supply.as_ref()
        })?;
        Some(Self { job, was, case: Case::of(&state), carrier: None, ways_carrier: None, kept })
    }

    /// The way that a reading was made by.
    pub(super) fn way(&self, reading: &Reading) -> &'a Way {
        let named = [self.job.carrier_way(), self.job.harmonics_way()];
        let found = named.into_iter().find(|way| way.name == reading.scope.path);
        found.unwrap_or_else(|| self.job.carrier_way())
    }

    /// Judges all readings of the state.
    pub(super) fn judge(mut self, readings: &[Reading]) -> Result<Vec<VerdictReading>, PathError> {
        let set_up = self.job.plan.set_up.is_some().then(|| self.set_up(readings)).flatten();
        if let Some(job) = &set_up {
            return InState {
                job,
                was: self.was,
                case: Case { supply: self.case.supply.clone(), ..self.case },
                carrier: None,
                ways_carrier: None,
                kept: &mut Kept::default(),
            }
            .by_key_downs(readings);
        }
        self.by_key_downs(readings)
    }

    fn by_key_downs(&mut self, readings: &[Reading]) -> Result<Vec<VerdictReading>, PathError> {
        let mut judged = Vec::with_capacity(readings.len());
        let mut rest = readings;
        while let Some(first) = rest.first() {
            let count = if begins_key_down(first) {
                1 + rest[1..].iter().take_while(|reading| is_of_this_key_down(first, reading)).count()
            } else {
                1
            };
            let (these, others) = rest.split_at(count);
            if begins_key_down(first) {
                let searching = self.searching(&judged, these, readings)?;
                judged.extend(self.key_down(these, searching.as_ref())?);
            } else {
                judged.push(self.alone(first)?);
            }
            rest = others;
        }
        self.leaks_of(&mut judged, readings)?;
        for (judged, recorded) in
            judged.iter_mut().zip(readings).filter(|(_, recorded)| has_changed(recorded))
        {
            // Nothing that is replaced now tells what the path was then.
            (judged.reading.outcome, judged.reading.reason) = (recorded.outcome, recorded.reason.clone());
        }
        for (judged, recorded) in judged.iter_mut().zip(readings) {
            // What the supply held back then is not charged to the unit now either.
            let held_back = recorded.reason.as_ref().filter(|reason| reason.code == ReasonCode::SupplyLimit);
            if let Some(reason) = held_back.filter(|_| judged.reading.outcome != Outcome::Complies) {
                (judged.reading.outcome, judged.reading.reason) = (recorded.outcome, Some(reason.clone()));
            }
        }
        Ok(judged)
    }

    /// The job with the modulation that a set-up found, or that one found for this channel before.
    fn set_up(&mut self, readings: &[Reading]) -> Option<Box<Job>> {
        let set_up = self.job.plan.set_up?;
        let own = readings.iter().find(|reading| reading.name.as_deref() == Some(SET_UP));
        let scope = &readings.first()?.scope;
        let Some(own) = own else {
            let kept = self.kept.jobs.as_ref();
            let kept =
                kept.filter(|(channel, supply, _)| *channel == scope.channel && *supply == scope.supply);
            return kept.map(|(_, _, job)| job.clone());
        };
        let (fact, last) = match set_up.aim {
            SetUpAim::Depth { .. } => (ModulationFact::Depth, 0),
            SetUpAim::AboveHalf { .. } => (ModulationFact::Deviation, 1),
            SetUpAim::Share { .. } => (ModulationFact::Deviation, 0),
        };
        let at_input =
            self.job.carrier_at_analyser(self.job.carrier_way(), self.case.channel, self.case.power).ok()?;
        let looks =
            set_up_looks(self.job.bench.analyser_profile(), self.case.channel.carrier, at_input, &set_up);
        let lines = looks[last].1;
        let tone = if last == 1 { set_up.tone } else { set_up.searched_with() };
        let found = modulation_seen(self.job, own.acquisitions.last()?, tone, fact, lines)?;
        let mut job = Box::new(self.job.clone());
        job.plan.modulation = found.modulation(set_up.tone);
        self.kept.jobs = Some((scope.channel.clone(), scope.supply.clone(), job.clone()));
        Some(job)
    }

    /// What the sweeps of the state show, where lines that they found were read on a key-down.
    fn searching(
        &self,
        judged: &[VerdictReading],
        of_key_down: &[Reading],
        readings: &[Reading],
    ) -> Result<Option<SearchedAgain>, PathError> {
        if !of_key_down.iter().any(|reading| reading.quantity == Quantity::Spurious) {
            return Ok(None);
        }
        let search = readings.iter().find(|reading| reading.quantity == Quantity::Search);
        let (Some(search), Some(Ok(carrier)), Some(layout)) =
            (search, &self.ways_carrier, self.was.search(self.case.channel, self.case.power)?)
        else {
            return Ok(None);
        };
        let harmonics: Vec<Reading> = judged.iter().map(|judged| judged.reading.clone()).collect();
        SearchedAgain::of((self.job, self.was), &layout, search, carrier, &harmonics)
    }

    /// One key-down: the carrier, then everything that was read with it.
    fn key_down(
        &mut self,
        readings: &[Reading],
        searching: Option<&SearchedAgain>,
    ) -> Result<Vec<VerdictReading>, PathError> {
        let first = &readings[0];
        let framed = Looks::of(first);
        let Some(carrier) = self.carrier(first, &framed)? else {
            let carrier = self.measured().cloned();
            return readings
                .iter()
                .map(|reading| corrected::judge(self.job, self.was, carrier.as_ref(), reading))
                .collect();
        };
        let mut work = KeyDown { judged: Vec::new(), spectra: Vec::new() };
        work.judged.extend(carrier.reading.map(raw));
        if !readings.iter().any(|reading| reading.quantity == Quantity::Spurious) {
            self.ways_carrier = Some(carrier.measured.clone());
        }
        self.carrier = Some(carrier.measured);
        while work.judged.len() < readings.len() {
            self.next_of(&mut work, readings, searching)?;
        }
        if let Some(left) = carrier.left {
            holds_the_beginning(&mut work.judged[0].reading, left);
        }
        self.end_of(&mut work, &framed);
        let spectra = std::mem::take(&mut work.spectra);
        for (place, spectrum) in spectra {
            let places = place..place + spectrum.count;
            let seen = work.judged[places.clone()].iter().map(|judged| judged.reading.clone()).collect();
            let seen = self.judge_spectrum(spectrum, seen, &readings[places.clone()])?;
            work.judged.splice(places, seen.into_iter().map(raw));
        }
        for (judged, recorded) in work.judged.iter_mut().zip(readings) {
            if judged.from == JudgedFrom::Raw && is_line(recorded) {
                self.afterwards(&mut judged.reading, &Looks::of(recorded))?;
                family_again(recorded, &mut judged.reading);
            }
        }
        Ok(work.judged)
    }

    /// The next reading of a key-down, or the next few that were made from the same looks.
    fn next_of(
        &self,
        work: &mut KeyDown,
        readings: &[Reading],
        searching: Option<&SearchedAgain>,
    ) -> Result<(), PathError> {
        let place = work.judged.len();
        let recorded = &readings[place];
        let looks = Looks::of(recorded);
        let carrier = match self.carrier.as_ref() {
            Some(Ok(carrier)) => carrier,
            Some(Err(reason)) => {
                let reason = Some(reason.clone());
                // Its looks stay with it, though they say nothing any more.
                let acquisitions = looks.before.into_iter().chain(looks.off).chain(looks.keyed).collect();
                work.judged.push(raw(Reading { reason, acquisitions, ..blank(recorded) }));
                return Ok(());
            }
            None => {
                work.judged.push(as_recorded(recorded));
                return Ok(());
            }
        };
        if looks.keyed.is_empty() {
            // It was not looked at, for a reason that the record tells.
            work.judged.push(as_recorded(recorded));
            return Ok(());
        }
        match recorded.quantity {
            Quantity::Harmonic => {
                work.judged.push(raw(self.harmonic(carrier, recorded, &looks)?));
            }
            Quantity::Spurious => {
                let again = match searching {
                    Some(searching) => self.spurious(searching, carrier, recorded, &looks)?,
                    None => None,
                };
                work.judged.push(match again {
                    Some(reading) => raw(reading),
                    None => corrected::judge(self.job, self.was, Some(carrier), recorded)?,
                });
            }
            Quantity::Deviation | Quantity::ModulationDepth => {
                work.judged.push(self.modulation(carrier, recorded, &looks));
            }
            _ => match self.spectrum(carrier, &readings[place..], &looks)? {
                Some(spectrum) => {
                    let blanks = self.spectrum_blanks(&spectrum, &readings[place..place + spectrum.count]);
                    work.judged.extend(blanks.into_iter().map(raw));
                    work.spectra.push((place, spectrum));
                }
                None => work.judged.push(corrected::judge(self.job, self.was, Some(carrier), recorded)?),
            },
        }
        Ok(())
    }

    fn modulation(&self, carrier: &MeasuredCarrier, recorded: &Reading, looks: &Looks) -> VerdictReading {
        let (Some(measure), Some(seen)) = (self.job.plan.measure.modulation, looks.keyed.last()) else {
            return as_recorded(recorded);
        };
        let mut reading = blank(recorded);
        reading.proof.mixer_level = carrier.at_analyser.map(|level| level - seen.settings.attenuation);
        judge_look(self.job, &measure, seen, &mut reading);
        reading.acquisitions = vec![seen.clone()];
        raw(reading)
    }

    /// What became of the carrier until the end of the key-down.
    fn end_of(&self, work: &mut KeyDown, framed: &Looks) {
        let Some((beginning, end)) = framed.beginning.as_ref().zip(framed.end.as_ref()) else { return };
        let (change, reason) = changed(self.job, self.case.power, beginning, end);
        for judged in work.judged.iter_mut().filter(|judged| judged.from == JudgedFrom::Raw) {
            told_of_change(&mut judged.reading, change, reason.as_ref());
        }
        if let Some(first) = work.judged.first_mut().filter(|first| first.from == JudgedFrom::Raw) {
            first.reading.acquisitions.push(end.clone());
        }
    }

    /// A reading that is of no key-down with others.
    fn alone(&self, recorded: &Reading) -> Result<VerdictReading, PathError> {
        let carrier = self.measured();
        match recorded.quantity {
            Quantity::Harmonic if recorded.acquisitions.is_empty() && carrier.is_some() => {
                let settled = matches!(recorded.outcome, spurline_record::Outcome::Invalid);
                Ok(if settled { as_recorded(recorded) } else { raw(self.not_reached(recorded)?) })
            }
            Quantity::Search => match &self.ways_carrier {
                Some(Ok(carrier)) => self.search(carrier, recorded),
                _ => Ok(as_recorded(recorded)),
            },
            Quantity::PowerOverTime => {
                let again = over_time_again(self.job, self.case.power, recorded, blank(recorded))?;
                Ok(again.map_or_else(|| as_recorded(recorded), raw))
            }
            _ => corrected::judge(self.job, self.was, carrier, recorded),
        }
    }

    fn measured(&self) -> Option<&MeasuredCarrier> {
        self.carrier.as_ref().and_then(|carrier| carrier.as_ref().ok())
    }

    fn leaks_of(&self, judged: &mut [VerdictReading], readings: &[Reading]) -> Result<(), PathError> {
        for (judged, recorded) in judged.iter_mut().zip(readings) {
            if judged.from == JudgedFrom::Raw && is_line(recorded) {
                self.leaks(&mut judged.reading, &Looks::of(recorded))?;
            }
        }
        Ok(())
    }
}

/// Whether a reading was made on the key-down that another one begins.
fn is_of_this_key_down(first: &Reading, reading: &Reading) -> bool {
    !begins_key_down(reading)
        && !matches!(reading.quantity, Quantity::Search | Quantity::PowerOverTime)
        && reading.scope.path == first.scope.path
        && reading.proof.carrier_change == first.proof.carrier_change
        && reading.proof.carrier_change.is_some()
}
