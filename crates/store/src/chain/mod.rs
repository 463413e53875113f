//! The chain of hashes over a run: who changes, drops, adds or moves anything of it cannot make it fit again without
//! making every later link anew, and then its head is another one than the one that was written down.
//!
//! # What is hashed, byte by byte
//!
//! The hash is SHA-256. What is hashed is made of *fields*, each of which says its kind and its length, so that no two
//! different contents are the same bytes:
//!
//! | field | bytes |
//! |---|---|
//! | nothing | `N` |
//! | a whole number | `I`, then 8 bytes, two's complement, big endian |
//! | a real number | `F`, then the 8 bytes of IEEE 754 binary64, big endian |
//! | a text | `T`, then its length in bytes (8 bytes, big endian), then its UTF-8 |
//! | bytes | `B`, then their length (8 bytes, big endian), then themselves |
//! | a row | `R`, then the name of its table (a text), the number of its columns (a whole number), then each of them |
//!
//! A column is the field of what SQLite gives back for it. The **digest** of an event is the hash of the text
//! `spurline event 1` and of these rows, one after the other, each with the columns named in [`rows`]:
//!
//! 1. its row of `event`;
//! 2. if it is the start of the run: the row of `run` with what is known then, and the rows of `text` in their order;
//! 3. the rows of `instrument` that have its number;
//! 4. if it finished a reading: the row of `reading`, its rows of `acquisition` and its rows of `sweep`, each in
//!    their order. Of a sweep the column `hash` counts and not the data: the hash of its levels as binary32, little
//!    endian.
//!
//! The digest of a batch of the transcript is the hash of the text `spurline transcript 1` and of its row of
//! `transcript_batch`; of its messages the column `hash` counts, the hash of what they were before compression.
//!
//! Events and batches have one chain: a **link** is the hash of the text `spurline link 1`, the link before as bytes,
//! and the digest as bytes. Before the first link are 32 bytes of zero. The last one is the **head** of the run.

mod encode;
pub(crate) mod rows;

use std::fmt;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, Value, ValueRef};
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Serialize, Serializer};
use spurline_record::RunId;

pub(crate) use encode::{Fields, of_bytes, of_levels, put_sized};

/// The form of the chain that this module describes.
pub(crate) const FORM: i64 = 1;

/// A SHA-256 hash.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// What stands before the first link.
    pub(crate) const ORIGIN: Self = Self([0; 32]);
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, into: S) -> Result<S::Ok, S::Error> {
        into.collect_str(self)
    }
}

impl ToSql for Hash {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Owned(Value::Blob(self.0.to_vec())))
    }
}

impl FromSql for Hash {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let bytes = value.as_blob()?;
        let length = bytes.len();
        bytes
            .try_into()
            .map(Self)
            .map_err(|_| FromSqlError::InvalidBlobSize { expected_size: 32, blob_size: length })
    }
}

/// The link that follows on another one.
pub(crate) fn link(before: Hash, digest: Hash) -> Hash {
    let mut fields = Fields::new("spurline link 1");
    fields.bytes(&before.0);
    fields.bytes(&digest.0);
    fields.hash()
}

/// Begins the chain of a run that was just written.
pub(crate) fn begin(into: &Connection, run: &RunId) -> rusqlite::Result<()> {
    into.prepare_cached("UPDATE run SET chain = ?2, links = 0, head = ?3 WHERE id = ?1")?
        .execute(params![run.as_str(), FORM, Hash::ORIGIN])?;
    Ok(())
}

/// Adds an event that was just written, with all that came with it, to the chain of its run.
///
/// What is hashed is read back: not what was to be kept counts, but what is.
pub(crate) fn add_event(into: &Connection, run: &RunId, sequence: i64) -> rusqlite::Result<()> {
    let Some(next) = next(into, run)? else { return Ok(()) };
    let digest = rows::event(into, run, sequence)?;
    let link = link(next.before, digest);
    into.prepare_cached(
        "UPDATE event SET number = ?3, digest = ?4, link = ?5 WHERE run = ?1 AND sequence = ?2",
    )?
    .execute(params![run.as_str(), sequence, next.number, digest, link])?;
    moved_on(into, run, next.number, link)
}

/// Adds a batch of the transcript that was just written to the chain of its run.
pub(crate) fn add_batch(into: &Connection, run: &RunId, ordinal: i64) -> rusqlite::Result<()> {
    let Some(next) = next(into, run)? else { return Ok(()) };
    let digest = rows::batch(into, ordinal)?;
    let link = link(next.before, digest);
    into.prepare_cached(
        "UPDATE transcript_batch SET number = ?2, digest = ?3, link = ?4 WHERE ordinal = ?1",
    )?
    .execute(params![ordinal, next.number, digest, link])?;
    moved_on(into, run, next.number, link)
}

struct Next {
    number: i64,
    before: Hash,
}

/// Where the next link goes; nowhere in a run that began without a chain and goes on.
fn next(from: &Connection, run: &RunId) -> rusqlite::Result<Option<Next>> {
    from.prepare_cached("SELECT links + 1, head FROM run WHERE id = ?1 AND chain = ?2")?
        .query_row(params![run.as_str(), FORM], |row| Ok(Next { number: row.get(0)?, before: row.get(1)? }))
        .optional()
}

fn moved_on(into: &Connection, run: &RunId, links: i64, head: Hash) -> rusqlite::Result<()> {
    into.prepare_cached("UPDATE run SET links = ?2, head = ?3 WHERE id = ?1")?.execute(params![
        run.as_str(),
        links,
        head
    ])?;
    Ok(())
}
