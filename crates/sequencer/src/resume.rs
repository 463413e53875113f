//! Going on with a run that had broken off: what is kept already, and that bench, unit and carrier are still the same.

mod history;

use jiff::Timestamp;
use spurline_plan::{Extent, Job};
use spurline_record::{
    Event, EventKind, InstrumentUsed, Outcome, Part, Quantity, Reading, Resumption, Role, RunState, Scope,
};
use spurline_units::Dbm;

use crate::fault::RunFault;
use crate::mending::mended;
use crate::scope::{Case, Measuring};
use crate::verify;
pub use history::KeyedSpan;
pub(crate) use history::{hottest, keying};

/// What is kept of a run that goes on.
#[derive(Clone, Debug)]
pub struct Kept {
    /// The number of its last event.
    pub last: u64,
    /// The pieces of the plan that are done.
    pub parts: Vec<Part>,
    /// The readings of these pieces, in order.
    pub readings: Vec<Reading>,
    /// Every level of a carrier that was measured, also of what was half done: the bench must bear it.
    pub levels: Vec<(Scope, Dbm)>,
    /// How many readings the run has numbered, those that are set aside among them.
    pub numbered: u32,
    /// The instruments as they were found when it began.
    pub instruments: Vec<InstrumentUsed>,
    /// When it keyed the unit.
    pub keyed: Vec<KeyedSpan>,
    /// When it goes on; `None` for now.
    pub went_on: Option<Timestamp>,
    /// How it goes on, for the record.
    pub resumption: Resumption,
}

impl Kept {
    /// What the events of a run, in order, leave to be gone on from; `readings` are those that count so far.
    #[must_use]
    pub fn of(events: &[Event], readings: &[Reading], stood: RunState, software: &str) -> Self {
        let mut parts = Vec::new();
        let mut half_done: Vec<u32> = Vec::new();
        let mut levels = Vec::new();
        let mut instruments: Vec<InstrumentUsed> = Vec::new();
        let mut numbered = 0;
        let mut key_was_down = false;
        let mut resumed_before = false;
        for event in events {
            match &event.kind {
                EventKind::ReadingFinished(reading) => {
                    if let (Quantity::CarrierPower, Some(level)) = (reading.quantity, reading.level()) {
                        levels.push((reading.scope.clone(), level));
                    }
                    half_done.push(reading.ordinal);
                    numbered = numbered.max(reading.ordinal);
                }
                EventKind::PartFinished(part) => {
                    parts.push(part.clone());
                    half_done.clear();
                }
                EventKind::Resumed(_) => {
                    // What was half done then is set aside already.
                    half_done.clear();
                    resumed_before = true;
                }
                EventKind::InstrumentFound(used) if !resumed_before => instruments.push(used.clone()),
                EventKind::KeyDown { .. } => key_was_down = true,
                EventKind::KeyUp { .. } => key_was_down = false,
                _ => {}
            }
        }
        let readings = readings.iter().filter(|reading| !half_done.contains(&reading.ordinal));
        Self {
            last: events.last().map_or(0, |event| event.sequence),
            parts,
            readings: readings.cloned().collect(),
            numbered,
            levels,
            instruments,
            keyed: history::spans(events),
            went_on: None,
            resumption: Resumption {
                software: software.to_owned(),
                stood,
                set_aside: half_done,
                key_was_down,
                notes: Vec::new(),
            },
        }
    }

    /// That the same instruments and the same unit answer as when the run began.
    ///
    /// # Errors
    ///
    /// [`RunFault::AnotherInstrument`] for the first that is another one.
    pub(crate) fn same_bench(&self, found: &[InstrumentUsed]) -> Result<(), RunFault> {
        let of = |among: &[InstrumentUsed], role: Role, place: usize| {
            among.iter().filter(|used| used.role == role).nth(place).cloned()
        };
        for role in Role::ALL {
            let count = self.instruments.iter().filter(|used| used.role == role).count();
            for place in 0..count {
                let (was, now) = (of(&self.instruments, role, place), of(found, role, place));
                let same = was.as_ref().map(|used| &used.identity) == now.as_ref().map(|used| &used.identity);
                if !same {
                    let [expected, found] =
                        [was, now].map(|used| used.as_ref().map(words).unwrap_or_default());
                    return Err(RunFault::AnotherInstrument { role, expected, found });
                }
            }
        }
        Ok(())
    }

    /// The carrier that shows whether unit and path are still what they were: the weakest that was measured, and the
    /// state that it was measured in.
    fn carrier<'j>(&self, job: &'j Job) -> Option<(Case<'j>, &Reading, Dbm)> {
        let carriers = self.readings.iter().filter(|reading| {
            reading.quantity == Quantity::CarrierPower && reading.outcome != Outcome::Invalid
        });
        let states = job.states();
        let known = carriers.filter_map(|reading| {
            let way = job.carrier_way();
            let case = states.iter().map(Case::of).find(|case| case.scope(way) == reading.scope)?;
            Some((Case { extent: Extent::Carrier, ..case }, reading, reading.level()?))
        });
        known.min_by(|one, other| one.2.get().total_cmp(&other.2.get()))
    }
}

fn words(used: &InstrumentUsed) -> String {
    let identity = &used.identity;
    let words = [&identity.maker, &identity.model, &identity.serial, &identity.firmware];
    words.map(String::as_str).into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

impl Measuring<'_, '_> {
    /// Measures a carrier that the run has measured already, before it goes on: unit and path must be what they were.
    /// Nothing of it is kept but a note.
    pub(crate) async fn verify_carrier(&mut self, kept: &Kept) -> Result<(), RunFault> {
        let Some((case, was, before)) = kept.carrier(self.job) else {
            return self.emit(EventKind::Note(
                "no carrier had been measured: nothing shows whether unit and path are as they were"
                    .to_owned(),
            ));
        };
        mended!(self, self.look_at_carrier(&case));
        let now = self.done.held.drain(..).find(|reading| reading.quantity == Quantity::CarrierPower);
        let level = now.as_ref().and_then(Reading::level);
        let allowed = verify::allowed(self.job, was, false);
        let place = format!("{} at {}", case.channel.name, case.power.name);
        match (level, now.and_then(|now| now.reason)) {
            (Some(level), _) if (level - before).abs() <= allowed => {
                let note = format!(
                    "the carrier of {place} is {level}, and was {before} before the run broke off: at most {allowed} apart \
                     is let pass"
                );
                self.path_is_as_it_was(&note);
                self.emit(EventKind::Note(note))
            }
            (Some(level), _) => Err(RunFault::AnotherCarrier { place, level, before, allowed }),
            (None, reason) => {
                let why = reason.map_or_else(|| "nothing was measured".to_owned(), |reason| reason.text);
                Err(RunFault::NoCarrierAgain { place, why })
            }
        }
    }

    async fn look_at_carrier(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let supplies = &self.job.plan.supplies;
        if let Some(setting) = supplies.iter().find(|supply| Some(&supply.name) == case.supply.as_ref()) {
            self.rack.feed(setting).await?;
        }
        self.try_scope(case).await
    }
}

#[cfg(test)]
mod tests;
