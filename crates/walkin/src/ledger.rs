//! What the log of a day comes to: the visits, each as it stands with all that corrected it.

use jiff::Timestamp;
use spurline_record::{DayEntry, DayEvent, Drift, Label, RunId, VisitOutcome, VisitResult};

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
}

/// A day, out of its log.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    visits: Vec<Visit>,
    /// Why a carrier stays that nobody let go of, until somebody has said that it is gone.
    stays: Option<String>,
}

impl Ledger {
    /// What entries of one day, in their order, come to.
    #[must_use]
    pub fn of(entries: &[DayEntry]) -> Self {
        let mut ledger = Self::default();
        entries.iter().for_each(|entry| ledger.take(entry));
        ledger
    }

    /// Takes one more entry. One about a visit that never came says nothing.
    pub fn take(&mut self, entry: &DayEntry) {
        match &entry.event {
            DayEvent::Opened { .. } => {}
            DayEvent::Came { visit, label, reference } => self.visits.push(Visit {
                number: *visit,
                at: entry.at,
                label: label.clone(),
                first: None,
                reference: *reference,
                run: None,
                ended: None,
                drifts: Vec::new(),
            }),
            DayEvent::Measuring { visit, run } => self.with(*visit, |visit| visit.run = Some(run.clone())),
            DayEvent::Ended { visit, result } => {
                self.with(*visit, |visit| visit.ended = Some((entry.at, result.clone())));
            }
            DayEvent::Corrected { visit, label } => self.with(*visit, |visit| {
                let corrected = visit.label.corrected(label);
                visit.first.get_or_insert(std::mem::replace(&mut visit.label, corrected));
            }),
            DayEvent::Stays { why, .. } => self.stays = Some(why.clone()),
            DayEvent::Gone => self.stays = None,
            DayEvent::Compared { visit, drifts } => {
                self.with(*visit, |visit| visit.drifts.clone_from(drifts));
            }
        }
    }

    fn with(&mut self, number: u32, change: impl FnOnce(&mut Visit)) {
        if let Some(visit) = self.visits.iter_mut().find(|visit| visit.number == number) {
            change(visit);
        }
    }

    /// Why a carrier stays that nobody let go of, if one does as far as anybody has said.
    #[must_use]
    pub fn stays(&self) -> Option<&str> {
        self.stays.as_deref()
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

    /// When the reference radio was last measured.
    #[must_use]
    pub fn reference_at(&self) -> Option<Timestamp> {
        let measured = self.visits.iter().rev().find(|visit| visit.reference && visit.is_measured());
        measured.and_then(|visit| visit.ended.as_ref()).map(|(at, _)| *at)
    }

    /// The first measurement of the reference radio: what all later ones are held against.
    #[must_use]
    pub fn reference(&self) -> Option<&Visit> {
        self.visits.iter().find(|visit| visit.reference && visit.is_measured())
    }
}
