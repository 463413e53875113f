//! Records on a stream (RFC 5531 clause 11): each fragment has a mark of four bytes with its length and whether it is
//! the last.

use bytes::{Buf, BufMut, Bytes, BytesMut};

/// Bytes of a mark.
const MARK: usize = 4;
const LAST: u32 = 1 << 31;
/// A record in more pieces than this is made to keep a reader busy.
const MOST_FRAGMENTS: usize = 1024;

/// Why a stream cannot be cut into records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// A record longer than allowed.
    #[error("expected a record of at most {limit} bytes, found one of {announced} bytes")]
    TooLong {
        /// What the marks say so far.
        announced: usize,
        /// What is allowed.
        limit: usize,
    },
    /// A record in too many pieces.
    #[error("expected a record in at most {MOST_FRAGMENTS} fragments, found more")]
    Fragments,
}

/// Cuts records out of a stream. The buffer may only be appended to between calls; after an error the connection is
/// of no more use.
#[derive(Clone, Debug)]
pub struct RecordDecoder {
    limit: usize,
    parts: BytesMut,
    fragments: usize,
}

impl RecordDecoder {
    /// A decoder that refuses records of more than `limit` bytes.
    #[must_use]
    pub fn new(limit: usize) -> Self {
        Self { limit: limit.min((LAST - 1) as usize), parts: BytesMut::new(), fragments: 0 }
    }

    /// The next whole record behind a single mark, or `None` until more bytes have come. A record in one fragment is
    /// cut out, not copied.
    ///
    /// When a mark announces more than has come, the buffer is made large enough for the rest.
    ///
    /// # Errors
    ///
    /// When more is announced than the limit; nothing is set aside then.
    pub fn decode(&mut self, buffer: &mut BytesMut) -> Result<Option<Bytes>, RecordError> {
        loop {
            let Some(mark) = buffer.first_chunk::<MARK>() else { return Ok(None) };
            let mark = u32::from_be_bytes(*mark);
            let length = (mark & !LAST) as usize;
            let whole = self.parts.len().saturating_sub(MARK) + length;
            if whole > self.limit {
                return Err(RecordError::TooLong { announced: whole, limit: self.limit });
            }
            if buffer.len() < MARK + length {
                buffer.reserve(MARK + length - buffer.len());
                return Ok(None);
            }
            if mark & LAST != 0 && self.parts.is_empty() {
                return Ok(Some(buffer.split_to(MARK + length).freeze()));
            }
            self.fragments += 1;
            if self.fragments > MOST_FRAGMENTS {
                return Err(RecordError::Fragments);
            }
            if self.parts.is_empty() {
                self.parts.put_u32(0);
            }
            buffer.advance(MARK);
            self.parts.extend_from_slice(&buffer.split_to(length));
            if mark & LAST != 0 {
                let whole = u32::try_from(whole).expect("the limit of a record fits a mark");
                self.parts[..MARK].copy_from_slice(&(LAST | whole).to_be_bytes());
                self.fragments = 0;
                return Ok(Some(self.parts.split().freeze()));
            }
        }
    }

    /// Whether the bytes so far end within a record.
    #[must_use]
    pub fn is_within(&self, buffer: &BytesMut) -> bool {
        !self.parts.is_empty() || !buffer.is_empty()
    }
}
