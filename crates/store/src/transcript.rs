//! What went over the links, byte by byte.

use jiff::Timestamp;
use rusqlite::{Transaction, params};
use serde::{Deserialize, Serialize};
use spurline_record::RunId;

use crate::column::{get_stamp, get_word, stamp, word};
use crate::error::StoreError;
use crate::open::Store;

/// Which way a message went, seen from this program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// To the instrument.
    To,
    /// From the instrument.
    From,
}

/// One message on one link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TranscriptEntry {
    /// When it was sent or had come.
    pub at: Timestamp,
    /// The link, by the name of its instrument.
    pub link: String,
    /// Which way.
    pub direction: Direction,
    /// The piece of work that it belongs to.
    pub step: String,
    /// The message as it was on the wire.
    pub bytes: Vec<u8>,
}

pub(crate) fn insert(
    into: &Transaction<'_>,
    run: &RunId,
    entries: &[TranscriptEntry],
) -> rusqlite::Result<()> {
    let mut statement = into.prepare_cached(
        "INSERT INTO transcript (run, at, link, direction, step, bytes) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for entry in entries {
        statement.execute(params![
            run.as_str(),
            stamp(entry.at),
            entry.link,
            word(entry.direction),
            entry.step,
            entry.bytes
        ])?;
    }
    Ok(())
}

impl Store {
    /// Every message of a run, in the order in which they were kept; none for a run that is not there.
    ///
    /// # Errors
    ///
    /// If the record cannot be read.
    pub fn transcript(&self, run: &RunId) -> Result<Vec<TranscriptEntry>, StoreError> {
        let read = || {
            self.connection
                .prepare_cached(
                    "SELECT at, link, direction, step, bytes FROM transcript WHERE run = ?1 ORDER BY ordinal",
                )?
                .query_map([run.as_str()], |row| {
                    Ok(TranscriptEntry {
                        at: get_stamp(row, 0)?,
                        link: row.get(1)?,
                        direction: get_word(row, 2)?,
                        step: row.get(3)?,
                        bytes: row.get(4)?,
                    })
                })?
                .collect::<rusqlite::Result<Vec<_>>>()
        };
        read().map_err(self.unread(format!("the transcript of run `{run}`")))
    }
}
