//! Cutting messages out of a byte stream: answers for the client, program messages for the instrument.
//!
//! What the message says is read elsewhere; here it only matters where it ends.

use bytes::{Buf, Bytes, BytesMut};

use crate::ErrorCode;
use crate::scan::{Scanner, Side};

/// How much a peer may send before it is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of one message outside blocks.
    pub text: usize,
    /// Bytes of all blocks of one message together.
    pub block: usize,
}

impl Default for Limits {
    /// 16 MiB of text, 64 MiB in blocks.
    fn default() -> Self {
        Self { text: 16 << 20, block: 64 << 20 }
    }
}

/// Why a stream cannot be cut, or a message not be taken apart. The link's state is unknown after any of these.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// `#0`: nothing on a stream says where it ends.
    #[error("expected a definite block, found `#0`, whose end cannot be told on a stream")]
    IndefiniteBlock,
    /// Something else than a digit in a block header.
    #[error("expected a digit in a block header, found byte 0x{found:02x}")]
    BlockHeader {
        /// The byte in its place.
        found: u8,
    },
    /// More in blocks than allowed.
    #[error("expected blocks of at most {limit} bytes in a message, found {announced} bytes announced")]
    BlockTooLong {
        /// What the headers say so far, all together.
        announced: u64,
        /// What is allowed.
        limit: usize,
    },
    /// More text than allowed without an end of message.
    #[error("expected the end of the message within {limit} bytes of text")]
    TextTooLong {
        /// What is allowed.
        limit: usize,
    },
    /// More data elements in a message than allowed.
    #[error("expected at most {limit} data elements in a message, found more")]
    TooManyElements {
        /// What is allowed.
        limit: usize,
    },
    /// The message ended inside a block.
    #[error("expected {expected} bytes of block data, found {found} bytes")]
    BlockCutShort {
        /// What the header says; 0 if the header itself was cut.
        expected: u64,
        /// What came.
        found: u64,
    },
    /// The message ended inside a string.
    #[error("expected a closing quote, found the end of the message")]
    StringNotClosed,
    /// Something other than a separator after a string or a block.
    #[error("expected a separator after a string or block, found byte 0x{found:02x}")]
    AfterElement {
        /// The byte in its place.
        found: u8,
    },
}

impl DecodeError {
    /// What an instrument that meets this in a program message puts in its error queue.
    #[must_use]
    pub fn code(self) -> ErrorCode {
        match self {
            Self::TextTooLong { .. } | Self::BlockTooLong { .. } | Self::TooManyElements { .. } => {
                ErrorCode::INPUT_BUFFER_OVERRUN
            }
            Self::IndefiniteBlock | Self::BlockHeader { .. } | Self::BlockCutShort { .. } => {
                ErrorCode::INVALID_BLOCK_DATA
            }
            Self::StringNotClosed => ErrorCode::INVALID_STRING_DATA,
            Self::AfterElement { .. } => ErrorCode::INVALID_SEPARATOR,
        }
    }
}

/// How far an answer has come, to say so when it stops coming.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Bytes of the answer looked at so far.
    pub received: usize,
    /// Bytes received and expected of the last block met.
    pub block: Option<(usize, usize)>,
}

/// Cuts response messages out of what an instrument sends.
///
/// The buffer may only be appended to between calls; after an error, or to start afresh, clear it and call
/// [`reset`](Self::reset).
#[derive(Clone, Debug)]
pub struct ResponseDecoder {
    scanner: Scanner,
}

impl ResponseDecoder {
    /// A decoder at the start of an answer.
    #[must_use]
    pub fn new(limits: Limits) -> Self {
        Self { scanner: Scanner::new(Side::Response, limits) }
    }

    /// The next whole answer without its terminator, or `None` until more bytes have come.
    ///
    /// Newlines, carriage returns, NULs and blanks before the answer are dropped: they are what the previous
    /// answer's end may have left behind.
    ///
    /// # Errors
    /// When the end of the answer can no longer be found with certainty.
    pub fn decode(&mut self, buffer: &mut BytesMut) -> Result<Option<Bytes>, DecodeError> {
        skip_leading(&self.scanner, buffer);
        let end = self.scanner.scan(buffer)?;
        Ok(end.map(|end| take(&mut self.scanner, buffer, end, 1)))
    }

    /// The answer as it stands, for a peer that marked its end by other means or by falling silent.
    ///
    /// # Errors
    /// When the bytes end inside a string or a block, or as [`decode`](Self::decode).
    pub fn finish(&mut self, buffer: &mut BytesMut) -> Result<Option<Bytes>, DecodeError> {
        if let Some(whole) = self.decode(buffer)? {
            return Ok(Some(whole));
        }
        if buffer.is_empty() {
            return Ok(None);
        }
        if self.scanner.in_string() {
            return Err(DecodeError::StringNotClosed);
        }
        let missing = match self.scanner.last_block() {
            Some((start, end)) if self.scanner.at() < end => Some((end - start, self.scanner.at() - start)),
            _ if self.scanner.at() < buffer.len() => Some((0, 0)),
            _ => None,
        };
        if let Some((expected, found)) = missing {
            return Err(DecodeError::BlockCutShort { expected: expected as u64, found: found as u64 });
        }
        Ok(Some(take(&mut self.scanner, buffer, buffer.len(), 0)))
    }

    /// Whether the bytes so far end exactly with a block: some instruments send no terminator after it, so the
    /// answer may be whole. Wait a little, then [`finish`](Self::finish).
    #[must_use]
    pub fn ends_with_block(&self) -> bool {
        self.scanner.last_block().is_some_and(|(_, end)| end == self.scanner.at())
    }

    /// How far the current answer has come.
    #[must_use]
    pub fn progress(&self) -> Progress {
        let received = self.scanner.at();
        let block = self.scanner.last_block().map(|(start, end)| (received.min(end) - start, end - start));
        Progress { received, block }
    }

    /// Forgets the current answer.
    pub fn reset(&mut self) {
        self.scanner.reset();
    }
}

/// Cuts program messages out of what a controller sends. NL and CR NL both end one.
///
/// The buffer may only be appended to between calls.
#[derive(Clone, Debug)]
pub struct ProgramDecoder {
    scanner: Scanner,
    discarding: bool,
}

impl ProgramDecoder {
    /// A decoder at the start of a message; `limits` are the instrument's input buffer.
    #[must_use]
    pub fn new(limits: Limits) -> Self {
        Self { scanner: Scanner::new(Side::Program, limits), discarding: false }
    }

    /// The next whole message without its terminator, or `None` until more bytes have come.
    ///
    /// # Errors
    /// When the message is too long or a block has no readable length. The rest of the message, up to the next
    /// newline, is dropped; decoding may go on.
    pub fn decode(&mut self, buffer: &mut BytesMut) -> Result<Option<Bytes>, DecodeError> {
        if self.discarding {
            let newline = buffer.iter().position(|&b| b == b'\n');
            buffer.advance(newline.map_or(buffer.len(), |at| at + 1));
            if newline.is_none() {
                return Ok(None);
            }
            self.discarding = false;
        }
        skip_leading(&self.scanner, buffer);
        match self.scanner.scan(buffer) {
            Ok(end) => Ok(end.map(|end| take(&mut self.scanner, buffer, end, 1))),
            Err(error) => {
                buffer.advance(self.scanner.at());
                self.reset();
                self.discarding = true;
                Err(error)
            }
        }
    }

    /// Forgets the current message, as a device clear does.
    pub fn reset(&mut self) {
        self.scanner.reset();
        self.discarding = false;
    }
}

fn skip_leading(scanner: &Scanner, buffer: &mut BytesMut) {
    if scanner.at() == 0 {
        let blanks = buffer.iter().take_while(|&&b| is_padding(b)).count();
        buffer.advance(blanks);
    }
}

/// Takes `end` bytes and the terminator, and strips padding that is not a block's data.
fn take(scanner: &mut Scanner, buffer: &mut BytesMut, end: usize, terminator: usize) -> Bytes {
    let mut message = buffer.split_to(end + terminator);
    let floor = scanner.last_block().map_or(0, |(_, end)| end);
    let padding = message[floor..end].iter().rev().take_while(|&&b| is_padding(b)).count();
    message.truncate(end - padding);
    scanner.reset();
    message.freeze()
}

fn is_padding(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r' | b'\0' | b' ' | b'\t')
}

#[cfg(test)]
mod tests;
