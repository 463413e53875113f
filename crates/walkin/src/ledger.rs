//! What the log of a day comes to: the visits, each as it stands with all that corrected it.

use std::collections::BTreeMap;

use jiff::Timestamp;
use spurline_record::{
    DayEntry, DayEvent, Drift, Label, RunId, VisitOutcome, VisitResult, same_call, same_tag,
};

/// One visit.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Which of the day, from 1.
    pub number: u32,
    /// When it came.
    pub at: Timestamp,
    /// What it goes by now.
    pub label: Label,
    /// What was said first, if that was corrected.
    pub first: Option<Label>,
    /// Whether it is the reference radio.
    pub reference: bool,
    /// By which tag it was taken for the reference radio when it came, rightly or not.
    pub taken_for: Option<String>,
    /// Its run, once that has a name.
    pub run: Option<RunId>,
    /// What it came to, and when.
    pub ended: Option<(Timestamp, VisitResult)>,
    /// Of the reference radio: how it stands against what it was.
    pub drifts: Vec<Drift>,
}

impl Visit {
    /// What it came to, if it did.
    #[must_use]
    pub fn result(&self) -> Option<&VisitResult> {
        self.ended.as_ref().map(|(_, result)| result)
    }

    /// Whether its carrier was measured.
    #[must_use]
    pub fn is_measured(&self) -> bool {
        let outcome = self.result().map(|result| result.outcome);
        matches!(
            outcome,
            Some(
                VisitOutcome::Complies
                    | VisitOutcome::Exceeds
                    | VisitOutcome::Undecided
                    | VisitOutcome::NoLimit
            )
        )
    }

    /// Whether it is a look at the reference radio that was not what it had been.
    #[must_use]
    pub fn has_drifted(&self) -> bool {
        self.reference && self.drifts.iter().any(Drift::is_real)
    }

    /// Whether the reference radio should have been measured before this visitor's radio.
    #[must_use]
    pub fn is_overdue(&self) -> bool {
        !self.reference && self.result().is_some_and(|result| result.reference_overdue)
    }

    /// Whether the bench was shown not to be as it was when this visitor's radio was measured.
    #[must_use]
    pub fn is_after_drift(&self) -> bool {
        !self.reference && self.result().is_some_and(|result| result.reference_drifted)
    }

    /// Takes a correction. A look at the reference radio of which is said whose radio it was, and not by the tag that it was
    /// taken for, was a visitor's; the same tag makes it a look again.
    fn correct(&mut self, by: &Label) {
        let mut corrected = self.label.corrected(by);
        if let Some(tag) = &self.taken_for {
            match &by.tag {
                Some(said) => self.reference = same_tag(said, tag),
                None if self.reference && !by.is_empty() => {
                    self.reference = false;
                    corrected.tag = None;
                }
                None => {}
            }
        }
        self.first.get_or_insert(std::mem::replace(&mut self.label, corrected));
    }
}

/// A carrier that stayed although everybody was told to let go.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stay {
    /// What was seen.
    pub(crate) why: String,
    /// Since when that is known.
    pub(crate) from: Timestamp,
    /// When somebody said that it was gone.
    pub(crate) to: Option<Timestamp>,
}

/// The carriers that stayed, by entries in their order.
pub(crate) fn stays<'e>(entries: impl IntoIterator<Item = &'e DayEntry>) -> Vec<Stay> {
    let mut stays = Vec::new();
    entries.into_iter().for_each(|entry| note_stay(&mut stays, entry));
    stays
}

fn note_stay(stays: &mut Vec<Stay>, entry: &DayEntry) {
    match &entry.event {
        DayEvent::Stays { why, .. } => stays.push(Stay { why: why.clone(), from: entry.at, to: None }),
        DayEvent::Gone => {
            stays.iter_mut().filter(|stay| stay.to.is_none()).for_each(|stay| stay.to = Some(entry.at));
        }
        _ => {}
    }
}

/// What a bench went through, on whichever days: the entries of all days that were held on it.
pub(crate) fn of_bench<'e>(entries: &'e [DayEntry], title: &str) -> Vec<&'e DayEntry> {
    let mut opened: BTreeMap<&str, &str> = BTreeMap::new();
    let mut found = Vec::new();
    for entry in entries {
        if let DayEvent::Opened { bench, .. } = &entry.event {
            opened.insert(&entry.day, bench);
        }
        if opened.get(entry.day.as_str()).is_some_and(|bench| *bench == title) {
            found.push(entry);
        }
    }
    found
}

/// The days that entries are of, each out of its own.
pub(crate) fn by_day(entries: &[&DayEntry]) -> Vec<Ledger> {
    let mut ledgers: BTreeMap<&str, Ledger> = BTreeMap::new();
    for entry in entries {
        ledgers.entry(&entry.day).or_default().take(entry);
    }
    ledgers.into_values().collect()
}

/// A day, out of its log.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    visits: Vec<Visit>,
    /// The carriers that stayed on its bench, be it on another day.
    stays: Vec<Stay>,
}

impl Ledger {
    /// What entries of one day, in their order, come to.
    #[must_use]
    pub fn of(entries: &[DayEntry]) -> Self {
        let mut ledger = Self::default();
        entries.iter().for_each(|entry| ledger.take(entry));
        ledger
    }

    /// A day out of a log of all: whoever takes back the leave to publish a call sign on a later day is not named any more.
    #[must_use]
    pub fn of_day(all: &[DayEntry], name: &str) -> Self {
        let mut days: BTreeMap<&str, Self> = BTreeMap::new();
        for entry in all {
            let day = days.entry(&entry.day).or_default();
            day.take(entry);
            let taken_back = match &entry.event {
                DayEvent::Came { visit, label, .. } | DayEvent::Corrected { visit, label } => {
                    let call = day.visit(*visit).and_then(|visit| visit.label.call.clone());
                    call.filter(|_| label.publish == Some(false))
                }
                _ => None,
            };
            if let Some(day) = days.get_mut(name) {
                day.withdraw(taken_back.as_ref(), Some(false));
            }
        }
        days.remove(name).unwrap_or_default()
    }

    /// Takes one more entry. One about a visit that never came says nothing.
    pub fn take(&mut self, entry: &DayEntry) {
        note_stay(&mut self.stays, entry);
        match &entry.event {
            DayEvent::Opened { .. } | DayEvent::Stays { .. } | DayEvent::Gone => {}
            DayEvent::Came { visit, label, reference } => {
                self.visits.push(Visit {
                    number: *visit,
                    at: entry.at,
                    label: label.clone(),
                    first: None,
                    reference: *reference,
                    taken_for: label.tag.clone().filter(|_| *reference),
                    run: None,
                    ended: None,
                    drifts: Vec::new(),
                });
                self.withdraw(label.call.as_ref(), label.publish);
            }
            DayEvent::Measuring { visit, run } => self.with(*visit, |visit| visit.run = Some(run.clone())),
            DayEvent::Ended { visit, result } => self.ended(*visit, entry.at, result.clone()),
            DayEvent::Corrected { visit, label } => {
                self.with(*visit, |visit| visit.correct(label));
                let call = self.visit(*visit).and_then(|visit| visit.label.call.clone());
                self.withdraw(call.as_ref(), label.publish);
            }
            DayEvent::Compared { visit, drifts } => self.compared(*visit, drifts.clone()),
        }
        if matches!(entry.event, DayEvent::Compared { .. } | DayEvent::Corrected { .. }) {
            self.mark_drifted();
        }
    }

    /// What a visit came to, by an entry of a moment; of one that was looked up later as of its own end.
    pub(crate) fn ended(&mut self, visit: u32, at: Timestamp, result: VisitResult) {
        let at = result.ended.map_or(at, |ended| ended.min(at));
        self.with(visit, |visit| visit.ended = Some((at, result)));
    }

    /// How a look at the reference radio stands.
    pub(crate) fn compared(&mut self, visit: u32, drifts: Vec<Drift>) {
        self.with(visit, |visit| visit.drifts = drifts);
    }

    /// Whoever takes back the leave to publish a call sign is named nowhere any more.
    fn withdraw(&mut self, call: Option<&String>, publish: Option<bool>) {
        let Some(call) = call.filter(|_| publish == Some(false)) else { return };
        let theirs = |visit: &&mut Visit| visit.label.call.as_ref().is_some_and(|own| same_call(own, call));
        self.visits.iter_mut().filter(theirs).for_each(|visit| visit.label.publish = Some(false));
    }

    /// The same with the carriers that stayed on its bench on all days.
    pub(crate) fn with_stays(self, stays: Vec<Stay>) -> Self {
        Self { stays, ..self }
    }

    fn with(&mut self, number: u32, change: impl FnOnce(&mut Visit)) {
        if let Some(visit) = self.visits.iter_mut().find(|visit| visit.number == number) {
            change(visit);
        }
    }

    /// Why a carrier stays that nobody let go of, if one does as far as anybody has said.
    #[must_use]
    pub fn stays(&self) -> Option<&str> {
        self.stays.iter().rev().find(|stay| stay.to.is_none()).map(|stay| stay.why.as_str())
    }

    /// All visits, in their order.
    #[must_use]
    pub fn visits(&self) -> &[Visit] {
        &self.visits
    }

    /// The visit of a number.
    #[must_use]
    pub fn visit(&self, number: u32) -> Option<&Visit> {
        self.visits.iter().find(|visit| visit.number == number)
    }

    /// The last visit.
    #[must_use]
    pub fn last(&self) -> Option<&Visit> {
        self.visits.last()
    }

    /// The number of the next one.
    #[must_use]
    pub fn next(&self) -> u32 {
        self.last().map_or(1, |visit| visit.number + 1)
    }

    /// The newest visit that goes by the same label.
    #[must_use]
    pub fn same(&self, label: &Label) -> Option<&Visit> {
        self.visits.iter().rev().find(|visit| !visit.reference && visit.label.shares(label))
    }

    /// The newest visit of which a word is all of this line, as one that was typed with blanks in it.
    #[must_use]
    pub fn spelt(&self, line: &str) -> Option<&Visit> {
        self.visits.iter().rev().find(|visit| !visit.reference && visit.label.has_word(line))
    }

    /// Visits whose end nobody has written: the program ended in them.
    pub fn broken(&self) -> impl Iterator<Item = &Visit> {
        self.visits.iter().filter(|visit| visit.ended.is_none())
    }

    /// When the reference radio was last measured, and was as it had been.
    #[must_use]
    pub fn reference_at(&self) -> Option<Timestamp> {
        let good = self.visits.iter().rev().find(|visit| self.is_good_look(visit));
        good.and_then(|visit| visit.ended.as_ref()).map(|(at, _)| *at)
    }

    /// The first measurement of the reference radio that had not drifted: what all later ones are held against.
    #[must_use]
    pub fn reference(&self) -> Option<&Visit> {
        self.visits.iter().find(|visit| visit.reference && visit.is_measured() && !visit.has_drifted())
    }

    /// The look at the reference radio by which the bench is not what it was, until one shows that it is again.
    #[must_use]
    pub fn drifted(&self) -> Option<&Visit> {
        self.drifted_before(u32::MAX)
    }

    /// The same as it stood when a visit came.
    fn drifted_before(&self, visit: u32) -> Option<&Visit> {
        let told = |look: &&Visit| {
            look.number < visit && look.reference && (look.has_drifted() || self.is_good_look(look))
        };
        self.visits.iter().rev().find(told).filter(|look| look.has_drifted())
    }

    /// Which visits came while the bench was shown not to be as it was, by the looks as they are known now: one that was a
    /// visitor's after all has shown nothing.
    fn mark_drifted(&mut self) {
        let after: Vec<bool> =
            self.visits.iter().map(|visit| self.drifted_before(visit.number).is_some()).collect();
        for (visit, after) in self.visits.iter_mut().zip(after) {
            if let Some((_, result)) = &mut visit.ended {
                result.reference_drifted = after;
            }
        }
    }

    /// Whether a look at the reference radio has shown that the bench is as it was, or is the one that says how it was.
    fn is_good_look(&self, visit: &Visit) -> bool {
        let is_first = || self.reference().is_some_and(|first| first.number == visit.number);
        visit.reference
            && visit.is_measured()
            && !visit.has_drifted()
            && (!visit.drifts.is_empty() || is_first())
    }
}

#[cfg(test)]
mod tests;
