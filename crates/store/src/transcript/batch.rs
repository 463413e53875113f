//! Batches of packed messages, compressed; and what a file may claim about one before it is believed.

use std::borrow::Cow;
use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;

use super::TranscriptEntry;
use super::pack::{pack, unpack};
use crate::chain::{self, Hash};
use crate::error::Damage;

/// A batch is closed at this many messages or bytes, so that reading one needs little memory.
const ENTRIES: usize = 1 << 14;
const BYTES: usize = 4 << 20;
/// What a compressed batch may become: one message of a link is at most 80 MiB. What is larger is kept as it is, so
/// that a small file never claims much memory.
const MOST_INFLATED: usize = 96 << 20;

const AS_IT_IS: i64 = 0;
const ZLIB: i64 = 1;
pub(crate) const PRUNED: i64 = 2;

/// A batch that is to be kept.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Batch {
    pub(super) entries: i64,
    pub(super) size: i64,
    pub(super) codec: i64,
    pub(super) data: Vec<u8>,
    /// Of the messages before they were compressed.
    pub(super) hash: Hash,
}

/// The batches that some messages make.
pub(super) fn all(entries: &[TranscriptEntry]) -> impl Iterator<Item = Batch> {
    let mut rest = entries;
    std::iter::from_fn(move || {
        let mut bytes = 0;
        let fits = |entry: &&TranscriptEntry| {
            bytes += entry.bytes.len();
            bytes <= BYTES
        };
        // One that is too large by itself goes alone.
        let taken = rest.iter().take(ENTRIES).take_while(fits).count().max(1).min(rest.len());
        let (first, others) = rest.split_at(taken);
        rest = others;
        (!first.is_empty()).then(|| one(first))
    })
}

fn one(entries: &[TranscriptEntry]) -> Batch {
    let packed = pack(entries);
    let size = packed.len() as i64;
    let hash = chain::of_bytes(&packed);
    let compressed = (packed.len() <= MOST_INFLATED).then(|| deflate(&packed)).flatten();
    let (codec, data) = match compressed {
        Some(data) if data.len() < packed.len() => (ZLIB, data),
        Some(_) | None => (AS_IT_IS, packed),
    };
    Batch { entries: entries.len() as i64, size, codec, data, hash }
}

fn deflate(packed: &[u8]) -> Option<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(packed).ok()?;
    encoder.finish().ok()
}

/// The memory that a batch may take, by what its row says.
pub(super) fn claimed(entries: i64, size: i64, data: i64) -> u64 {
    let number = |number: i64| u64::try_from(number).unwrap_or(u64::MAX);
    let entries = number(entries).saturating_mul(size_of::<TranscriptEntry>() as u64);
    number(size).max(number(data)).saturating_add(entries)
}

/// A batch as its row has it.
#[derive(Debug)]
pub(super) struct Stored<'a> {
    pub(super) entries: i64,
    pub(super) size: i64,
    pub(super) codec: i64,
    pub(super) data: &'a [u8],
}

impl Stored<'_> {
    /// Adds its messages to `into`; none if they were pruned.
    pub(super) fn unpack(&self, into: &mut Vec<TranscriptEntry>) -> Result<(), Damage> {
        let entries = usize::try_from(self.entries).ok().filter(|count| *count <= ENTRIES);
        let entries = entries.ok_or(Damage::Transcript("a batch claims more messages than one can hold"))?;
        self.packed()?.map_or(Ok(()), |packed| unpack(&packed, entries, into))
    }

    /// The hash of its messages as they were before compression; `None` if they were pruned.
    pub(super) fn hash(&self) -> Result<Option<Hash>, Damage> {
        Ok(self.packed()?.map(|packed| chain::of_bytes(&packed)))
    }

    fn packed(&self) -> Result<Option<Cow<'_, [u8]>>, Damage> {
        match self.codec {
            AS_IT_IS => Ok(Some(Cow::Borrowed(self.data))),
            ZLIB => self.inflate().map(|packed| Some(Cow::Owned(packed))),
            PRUNED if self.data.is_empty() => Ok(None),
            other => Err(Damage::UnknownCodec(other)),
        }
    }

    /// Not more is inflated than the row says, and the row is not believed beyond [`MOST_INFLATED`].
    fn inflate(&self) -> Result<Vec<u8>, Damage> {
        let size = u64::try_from(self.size).ok().filter(|size| *size <= MOST_INFLATED as u64);
        let size = size.ok_or(Damage::Transcript("a batch claims more bytes than one can hold"))?;
        let mut packed = Vec::new();
        ZlibDecoder::new(self.data)
            .take(size + 1)
            .read_to_end(&mut packed)
            .map_err(|error| Damage::Undecodable(error.to_string()))?;
        if packed.len() as u64 == size {
            Ok(packed)
        } else {
            Err(Damage::Transcript("a batch has another size than its row says"))
        }
    }
}

#[cfg(test)]
mod tests;
