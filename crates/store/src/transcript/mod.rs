//! What went over the links, byte by byte.

pub(crate) mod batch;
mod pack;
mod wire;

use std::sync::Arc;

use jiff::Timestamp;
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use serde::{Deserialize, Serialize};
use spurline_record::RunId;

use crate::chain::{self, Hash};
use crate::column::{broken, get_stamp, get_word};
use crate::error::{Damage, StoreError};
use crate::open::Store;
use batch::Batch;

/// What passed on a link, seen from this program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// A message to the instrument, without its terminator.
    To,
    /// A message from the instrument, without its terminator.
    From,
    /// Bytes from the instrument that could not be read as a message, as they came.
    Unreadable,
    /// Nothing passed: the link ended. The bytes say why, in words.
    Lost,
    /// Nothing passed: the run, which had broken off, went on from here.
    Resumed,
}

/// One message on one link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TranscriptEntry {
    /// When it was sent or had come.
    pub at: Timestamp,
    /// The link, by the name of its instrument.
    pub link: Arc<str>,
    /// Which way.
    pub direction: Direction,
    /// The piece of work that it belongs to.
    pub step: Arc<str>,
    /// The message as it was on the wire.
    pub bytes: Vec<u8>,
}

/// Every message of a run that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transcript {
    /// The messages in the order in which they were kept.
    pub entries: Vec<TranscriptEntry>,
    /// Whether a part of it was kept by a version of the program that wrote schema 1.
    pub older: bool,
    /// Whether messages were pruned.
    pub pruned: bool,
}

/// No transcript takes more memory than this.
const MOST_BYTES: u64 = 1 << 30;

/// Messages, packed and compressed: that is done before anybody is kept from writing.
pub(crate) fn packed(entries: &[TranscriptEntry]) -> Vec<Batch> {
    batch::all(entries).collect()
}

pub(crate) fn insert(into: &Transaction<'_>, run: &RunId, batches: &[Batch]) -> rusqlite::Result<()> {
    let mut statement = into.prepare_cached(
        "INSERT INTO transcript_batch (run, entries, size, codec, data, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for batch in batches {
        let values = params![run.as_str(), batch.entries, batch.size, batch.codec, batch.data, batch.hash];
        chain::add_batch(into, run, statement.insert(values)?)?;
    }
    Ok(())
}

impl Store {
    /// Every message of a run; none for a run that is not there.
    ///
    /// # Errors
    ///
    /// If the record cannot be read, is damaged, or holds more messages than fit into 1 GiB of memory.
    pub fn transcript(&self, run: &RunId) -> Result<Transcript, StoreError> {
        let read = || {
            let connection = self.connection.turn();
            let snapshot = rusqlite::Transaction::new_unchecked(&connection, TransactionBehavior::Deferred)?;
            within_reason(&snapshot, run, MOST_BYTES)?;
            let mut entries = rows(&snapshot, run)?;
            let older = !entries.is_empty();
            let pruned = batches(&snapshot, run, &mut entries)?;
            Ok(Transcript { entries, older, pruned })
        };
        read().map_err(self.unread(format!("the transcript of run `{run}`")))
    }
}

/// What schema 1 kept: one row a message.
fn rows(from: &Connection, run: &RunId) -> rusqlite::Result<Vec<TranscriptEntry>> {
    from.prepare_cached(
        "SELECT at, link, direction, step, bytes FROM transcript WHERE run = ?1 ORDER BY ordinal",
    )?
    .query_map([run.as_str()], |row| {
        Ok(TranscriptEntry {
            at: get_stamp(row, 0)?,
            link: row.get::<_, String>(1)?.into(),
            direction: get_word(row, 2)?,
            step: row.get::<_, String>(3)?.into(),
            bytes: row.get(4)?,
        })
    })?
    .collect()
}

/// Adds the messages of all batches; gives back whether some were pruned.
fn batches(from: &Connection, run: &RunId, into: &mut Vec<TranscriptEntry>) -> rusqlite::Result<bool> {
    if !has_batches(from)? {
        return Ok(false);
    }
    let mut statement = from.prepare_cached(
        "SELECT entries, size, codec, data FROM transcript_batch WHERE run = ?1 ORDER BY ordinal",
    )?;
    let mut rows = statement.query([run.as_str()])?;
    let mut pruned = false;
    while let Some(row) = rows.next()? {
        let batch = stored(row)?;
        pruned |= batch.codec == batch::PRUNED;
        batch.unpack(into).map_err(|damage| broken(3, Type::Blob, damage))?;
    }
    Ok(pruned)
}

/// A batch out of the columns `entries`, `size`, `codec` and `data`.
fn stored<'a>(row: &'a Row<'_>) -> rusqlite::Result<batch::Stored<'a>> {
    Ok(batch::Stored {
        entries: row.get(0)?,
        size: row.get(1)?,
        codec: row.get(2)?,
        data: row.get_ref(3)?.as_blob().map_err(|error| broken(3, Type::Blob, error))?,
    })
}

/// What the messages of a batch hash to, if they are there and sound.
pub(crate) fn hash_of(from: &Connection, ordinal: i64) -> rusqlite::Result<Result<Option<Hash>, Damage>> {
    from.prepare_cached("SELECT entries, size, codec, data FROM transcript_batch WHERE ordinal = ?1")?
        .query_row([ordinal], |row| Ok(stored(row)?.hash()))
}

/// A record of schema 1 that was opened for reading only has no table of batches.
fn has_batches(from: &Connection) -> rusqlite::Result<bool> {
    let there = "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'transcript_batch'";
    Ok(from.query_row(there, [], |_| Ok(())).optional()?.is_some())
}

/// Adds up what the rows of schema 1 hold and what the batches claim, before the first of them is read.
fn within_reason(from: &Connection, run: &RunId, most: u64) -> rusqlite::Result<()> {
    let mut claimed = 0u64;
    let mut add = |more: u64| {
        claimed = claimed.saturating_add(more);
        if claimed > most { Err(broken(1, Type::Integer, Damage::TooMuch { most })) } else { Ok(()) }
    };
    // Lengths in bytes: those of a text are counted in characters otherwise.
    let mut statement = from.prepare_cached(
        "SELECT length(CAST(link AS BLOB)) + length(CAST(step AS BLOB)) + length(CAST(bytes AS BLOB))
         FROM transcript WHERE run = ?1",
    )?;
    let mut rows = statement.query([run.as_str()])?;
    while let Some(row) = rows.next()? {
        add(batch::claimed(1, 0, row.get(0)?))?;
    }
    if has_batches(from)? {
        let mut statement =
            from.prepare_cached("SELECT entries, size, length(data) FROM transcript_batch WHERE run = ?1")?;
        let mut rows = statement.query([run.as_str()])?;
        while let Some(row) = rows.next()? {
            add(batch::claimed(row.get(0)?, row.get(1)?, row.get(2)?))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row of schema 1 and a batch count alike; neither is read before it is known what they come to.
    #[test]
    fn old_rows_and_batches_are_bounded_together() {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch(
                "CREATE TABLE transcript (run, at, link, direction, step, bytes);
                 INSERT INTO transcript VALUES ('r', '', 'relay', 'to', 'connect', zeroblob(100000));",
            )
            .unwrap();
        let run = RunId::from_record("r".to_owned());
        let around = size_of::<TranscriptEntry>() as u64;
        let row = 100_012 + around;
        assert!(within_reason(&connection, &run, row).is_ok());
        assert!(within_reason(&connection, &run, row - 1).is_err());
        connection
            .execute_batch(
                "CREATE TABLE transcript_batch (run, entries, size, codec, data);
                 INSERT INTO transcript_batch VALUES ('r', 1, 500, 0, zeroblob(500));",
            )
            .unwrap();
        assert!(within_reason(&connection, &run, row + 500 + around).is_ok());
        assert!(within_reason(&connection, &run, row + 499 + around).is_err());
    }
}
