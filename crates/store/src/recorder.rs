//! The writing half of the record: one run, one event after the other, what belongs together in one commit.

use rusqlite::{Transaction, TransactionBehavior};
use spurline_record::{Event, EventKind, RunId};

use crate::error::StoreError;
use crate::open::Store;
use crate::transcript::TranscriptEntry;
use crate::{finite, insert, transcript};

/// Writes one run. `Ok` means that it is on the disk.
///
/// The first write that fails is final: it is not known what of it reached the disk, so nothing that comes after may
/// be acknowledged. The record has to be opened again and looked at.
#[derive(Debug)]
pub struct Recorder {
    store: Store,
    run: Option<RunId>,
    stopped: bool,
}

impl Recorder {
    pub(crate) const fn new(store: Store) -> Self {
        Self { store, run: None, stopped: false }
    }

    pub(crate) const fn going_on(store: Store, run: RunId) -> Self {
        Self { store, run: Some(run), stopped: false }
    }

    /// Keeps events that belong together, all of them or none, in one transaction. With a finished reading go all its
    /// acquisitions and sweeps.
    ///
    /// # Errors
    ///
    /// If they cannot be written, come before the start of the run, or start a second one; if a figure of a reading is
    /// not finite; if an earlier write failed.
    pub fn record(&mut self, events: &[Event]) -> Result<(), StoreError> {
        self.record_with(events, &[])
    }

    /// The same with messages of the links, which are kept behind the events in the same transaction: neither is there
    /// without the other.
    ///
    /// # Errors
    ///
    /// As of [`Recorder::record`].
    pub fn record_with(&mut self, events: &[Event], entries: &[TranscriptEntry]) -> Result<(), StoreError> {
        if events.is_empty() {
            return if entries.is_empty() { Ok(()) } else { self.transcript(entries) };
        }
        let mut run = self.run.clone();
        for event in events {
            run = Some(run_of(run, event)?);
            if let EventKind::ReadingFinished(reading) = &event.kind {
                finite::check(reading)?;
            }
        }
        let Some(run) = run else { return Ok(()) };
        let batches = transcript::packed(entries);
        self.commit(&run, named(events), |transaction| {
            events.iter().try_for_each(|event| insert::event(transaction, &run, event))?;
            transcript::insert(transaction, &run, &batches)
        })?;
        self.run = Some(run);
        Ok(())
    }

    /// Keeps messages of the links, all in one transaction.
    ///
    /// # Errors
    ///
    /// If they cannot be written, come before the start of the run, or an earlier write failed.
    pub fn transcript(&mut self, entries: &[TranscriptEntry]) -> Result<(), StoreError> {
        let what = "a part of the transcript";
        let run = self.run.clone().ok_or_else(|| StoreError::NotStarted { what: what.to_owned() })?;
        let batches = transcript::packed(entries);
        self.commit(&run, what.to_owned(), |transaction| transcript::insert(transaction, &run, &batches))
    }

    /// Ends the writing; the store can be read, or record another run.
    #[must_use]
    pub fn into_store(self) -> Store {
        self.store
    }

    fn commit(
        &mut self,
        run: &RunId,
        what: String,
        write: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<()>,
    ) -> Result<(), StoreError> {
        let file = &self.store.file;
        if self.stopped {
            return Err(StoreError::Stopped { file: file.clone() });
        }
        let commit = || {
            // Immediate: a lock that another process holds is met here and not half way through.
            let connection = self.store.connection.turn();
            let transaction = Transaction::new_unchecked(&connection, TransactionBehavior::Immediate)?;
            write(&transaction)?;
            transaction.commit()
        };
        commit().map_err(|source| {
            self.stopped = true;
            StoreError::Write { what, run: run.clone(), file: file.clone(), source }
        })
    }
}

/// The run that an event belongs to, where `run` has begun already.
fn run_of(run: Option<RunId>, event: &Event) -> Result<RunId, StoreError> {
    match (run, &event.kind) {
        (None, EventKind::RunStarted(header)) => Ok(header.id.clone()),
        (Some(first), EventKind::RunStarted(header)) => {
            Err(StoreError::SecondRun { first, second: header.id.clone() })
        }
        (Some(run), _) => Ok(run),
        (None, _) => Err(StoreError::NotStarted { what: named(std::slice::from_ref(event)) }),
    }
}

/// Events as a message names them.
fn named(events: &[Event]) -> String {
    let name = |event: &Event| format!("event {} ({})", event.sequence, insert::name(&event.kind));
    match events {
        [] => "nothing".to_owned(),
        [one] => name(one),
        [first, .., last] => format!("{} to {}", name(first), name(last)),
    }
}

#[cfg(test)]
mod tests;
