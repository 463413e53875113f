//! Cutting HiSLIP messages out of what one of the two connections delivers.

use bytes::{Buf, BytesMut};

use super::{HEADER, Header, Message};

/// Why a connection cannot be read any further.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// What came is not HiSLIP, or the two ends have lost step.
    #[error("expected a header that begins with `HS`, found bytes 0x{:02x} 0x{:02x}", found[0], found[1])]
    Prologue {
        /// The two bytes in its place.
        found: [u8; 2],
    },
    /// A payload longer than allowed.
    #[error("expected a payload of at most {limit} bytes, found one of {announced} bytes")]
    TooLong {
        /// What the header says.
        announced: u64,
        /// What is allowed.
        limit: usize,
    },
}

/// Cuts messages out of a stream. The buffer may only be appended to between calls; after an error the connection
/// is of no more use.
#[derive(Clone, Debug)]
pub struct Decoder {
    limit: usize,
    header: Option<Header>,
}

impl Decoder {
    /// A decoder that refuses payloads of more than `limit` bytes.
    #[must_use]
    pub const fn new(limit: usize) -> Self {
        Self { limit, header: None }
    }

    /// The next whole message, or `None` until more bytes have come. The payload is cut out, not copied.
    ///
    /// When a header announces more than has come, the buffer is made large enough for the rest, so that it is read
    /// in few pieces and not moved again.
    ///
    /// # Errors
    ///
    /// When the header is not one, or announces more than the limit; nothing is set aside then.
    pub fn decode(&mut self, buffer: &mut BytesMut) -> Result<Option<Message>, DecodeError> {
        let header = match self.header {
            Some(header) => header,
            None => {
                let Some(bytes) = buffer.first_chunk::<HEADER>() else { return Ok(None) };
                let header = Header::decode(bytes)?;
                let limit = self.limit;
                if usize::try_from(header.length).map_or(true, |length| length > limit) {
                    return Err(DecodeError::TooLong { announced: header.length, limit });
                }
                buffer.advance(HEADER);
                *self.header.insert(header)
            }
        };
        // Within the limit, which is a `usize`.
        let length = header.length as usize;
        if buffer.len() < length {
            buffer.reserve(length - buffer.len());
            return Ok(None);
        }
        self.header = None;
        let payload = buffer.split_to(length).freeze();
        Ok(Some(Message::new(header.kind, header.control, header.parameter, payload)))
    }

    /// Whether the bytes so far end within a message.
    #[must_use]
    pub fn is_within(&self, buffer: &BytesMut) -> bool {
        self.header.is_some() || !buffer.is_empty()
    }
}
