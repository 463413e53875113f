//! Finding the end of a message in a stream: outside strings and outside blocks, however the bytes are split.

use crate::decode::{DecodeError, Limits};

/// What stands at a `#`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum BlockHead {
    /// More bytes are needed to tell.
    Partial,
    /// A number in another base, or plain text.
    NotBlock,
    /// `head` bytes of header, then `length` bytes of data.
    Definite { head: usize, length: u64 },
    /// `#0`: as far as the message goes.
    Indefinite,
}

/// Reads the block header at the start of `bytes`, which starts with `#`.
///
/// `#(<length>)` is common practice for blocks that nine digits cannot count.
pub(crate) fn block_head(bytes: &[u8]) -> Result<BlockHead, DecodeError> {
    let (digits_from, width) = match bytes.get(1) {
        None => return Ok(BlockHead::Partial),
        Some(b'0') => return Ok(BlockHead::Indefinite),
        Some(digit @ b'1'..=b'9') => (2, Some(usize::from(digit - b'0'))),
        Some(b'(') => (2, None),
        Some(_) => return Ok(BlockHead::NotBlock),
    };
    let mut length: u64 = 0;
    for (place, &byte) in bytes[digits_from..].iter().enumerate() {
        match byte {
            b'0'..=b'9' if place < MAX_DIGITS => {
                length = length.saturating_mul(10).saturating_add(u64::from(byte - b'0'));
                if width == Some(place + 1) {
                    return Ok(BlockHead::Definite { head: digits_from + place + 1, length });
                }
            }
            b')' if width.is_none() && place > 0 => {
                return Ok(BlockHead::Definite { head: digits_from + place + 1, length });
            }
            _ => return Err(DecodeError::BlockHeader { found: byte }),
        }
    }
    Ok(BlockHead::Partial)
}

/// As many digits as the largest `u64` has.
const MAX_DIGITS: usize = 20;

/// Which side wrote the message: quoting differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// Controller to instrument: both quotes, and a blank separates the header from the first element.
    Program,
    /// Instrument to controller: double quotes only; a quote within a bare text means nothing.
    Response,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Before the first byte of a data element: only here can a string or a block open.
    Open,
    Inside,
    Quoted(u8),
    /// After a quote that may be the first half of a doubled one.
    Closed(u8),
    /// In the data of a block that ends before this index.
    Body(usize),
}

/// Walks a buffer that only ever grows at its end until the message is taken out.
#[derive(Clone, Debug)]
pub(crate) struct Scanner {
    side: Side,
    limits: Limits,
    state: State,
    at: usize,
    /// Bytes outside blocks so far, and announced within blocks.
    text: usize,
    data: usize,
    block: Option<(usize, usize)>,
}

impl Scanner {
    pub(crate) fn new(side: Side, limits: Limits) -> Self {
        Self { side, limits, state: State::Open, at: 0, text: 0, data: 0, block: None }
    }

    pub(crate) fn reset(&mut self) {
        *self = Self::new(self.side, self.limits);
    }

    /// How far the buffer has been looked at.
    pub(crate) fn at(&self) -> usize {
        self.at
    }

    /// Where the last block's data starts and ends.
    pub(crate) fn last_block(&self) -> Option<(usize, usize)> {
        self.block
    }

    /// Whether the walk stands inside a string.
    pub(crate) fn in_string(&self) -> bool {
        matches!(self.state, State::Quoted(_))
    }

    /// The index of the newline that ends the message, or `None` if it has not come yet.
    pub(crate) fn scan(&mut self, bytes: &[u8]) -> Result<Option<usize>, DecodeError> {
        while let Some(&byte) = bytes.get(self.at) {
            match self.state {
                State::Body(end) => {
                    self.at = end.min(bytes.len());
                    if self.at == end {
                        self.state = State::Inside;
                    }
                    continue;
                }
                State::Open | State::Inside if !is_marked(byte) => {
                    self.pass(plain_stretch(&bytes[self.at..]))?;
                    continue;
                }
                State::Open if byte == b'#' => match block_head(&bytes[self.at..])? {
                    BlockHead::Partial => return Ok(None),
                    BlockHead::Indefinite => return Err(DecodeError::IndefiniteBlock),
                    BlockHead::Definite { head, length } => {
                        self.open_block(head, length)?;
                        continue;
                    }
                    BlockHead::NotBlock => self.state = State::Inside,
                },
                State::Quoted(quote) if byte == quote => self.state = State::Closed(quote),
                State::Quoted(_) => {}
                State::Closed(quote) if byte == quote => self.state = State::Quoted(quote),
                State::Open | State::Inside | State::Closed(_) if byte == b'\n' => return Ok(Some(self.at)),
                State::Open | State::Inside | State::Closed(_) => self.state = self.plain(byte),
            }
            self.at += 1;
            self.count(1)?;
        }
        Ok(None)
    }

    /// Moves over bytes of which none is [marked](is_marked).
    fn pass(&mut self, stretch: &[u8]) -> Result<(), DecodeError> {
        let room = self.limits.text.saturating_sub(self.text);
        let stretch = &stretch[..stretch.len().min(room.saturating_add(1))];
        // Only what stands last tells where the walk is; a blank does not close an element of an answer.
        let tells = |byte: &&u8| self.side == Side::Program || **byte > b' ';
        if let Some(&last) = stretch.iter().rev().find(tells) {
            self.state = self.plain(last);
        }
        self.at += stretch.len();
        self.count(stretch.len())
    }

    fn plain(&self, byte: u8) -> State {
        match byte {
            b',' | b';' => State::Open,
            b'"' if self.state == State::Open => State::Quoted(byte),
            b'\'' if self.state == State::Open && self.side == Side::Program => State::Quoted(byte),
            0..=b' ' if self.state == State::Open || self.side == Side::Program => State::Open,
            _ => State::Inside,
        }
    }

    fn open_block(&mut self, head: usize, length: u64) -> Result<(), DecodeError> {
        let limit = self.limits.block;
        let announced = length.saturating_add(self.data as u64);
        self.data = usize::try_from(announced)
            .ok()
            .filter(|&all| all <= limit)
            .ok_or(DecodeError::BlockTooLong { announced, limit })?;
        // Not more than all blocks together, which fit.
        let length = length as usize;
        self.count(head)?;
        self.at += head;
        self.block = Some((self.at, self.at + length));
        self.state = if length == 0 { State::Inside } else { State::Body(self.at + length) };
        Ok(())
    }

    fn count(&mut self, bytes: usize) -> Result<(), DecodeError> {
        self.text += bytes;
        let limit = self.limits.text;
        if self.text > limit { Err(DecodeError::TextTooLong { limit }) } else { Ok(()) }
    }
}

/// Bytes that may end the message, open a string or open a block.
fn is_marked(byte: u8) -> bool {
    matches!(byte, b'\n' | b'"' | b'\'' | b'#')
}

/// The start of `bytes` up to the first that is marked. A trace as text is a hundred thousand numbers without one, so
/// they are looked at a chunk at a time.
fn plain_stretch(bytes: &[u8]) -> &[u8] {
    let (chunks, _) = bytes.as_chunks::<64>();
    let marked = |chunk: &[u8; 64]| chunk.iter().fold(false, |any, &byte| any | is_marked(byte));
    let whole = 64 * chunks.iter().take_while(|chunk| !marked(chunk)).count();
    let rest = &bytes[whole..];
    let length = whole + rest.iter().position(|&byte| is_marked(byte)).unwrap_or(rest.len());
    &bytes[..length]
}

/// What is shorter is taken apart at once, which costs next to nothing.
pub(crate) const LONG: usize = 256;

/// The length of a unit at the start of `bytes` and the commas in it, if it is long and nothing but bare texts: neither
/// a string nor a block can be in it.
pub(crate) fn bare_run(bytes: &[u8]) -> Option<(usize, usize)> {
    if bytes.len() < LONG {
        return None;
    }
    let ends = |byte: u8| matches!(byte, b';' | b'"' | b'#');
    let (mut length, mut commas) = (0, 0);
    for chunk in bytes.as_chunks::<64>().0 {
        if chunk.iter().fold(false, |any, &byte| any | ends(byte)) {
            break;
        }
        // Counted in a byte, which holds the 64 that there can be, so that it is done for all of the chunk at once.
        let count = chunk.iter().fold(0_u8, |count, &byte| count.wrapping_add(u8::from(byte == b',')));
        commas += usize::from(count);
        length += chunk.len();
    }
    let rest = &bytes[length..];
    let last = rest.iter().position(|&byte| ends(byte)).unwrap_or(rest.len());
    commas += rest[..last].iter().filter(|&&byte| byte == b',').count();
    length += last;
    (length >= LONG && matches!(bytes.get(length), None | Some(b';'))).then_some((length, commas))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Headers: IEEE 488.2 clause 8.7.9 (definite), 8.7.10 (indefinite); `#(…)` is common practice.
    #[test]
    fn block_headers() {
        let table: &[(&[u8], Result<BlockHead, DecodeError>)] = &[
            (b"#", Ok(BlockHead::Partial)),
            (b"#2", Ok(BlockHead::Partial)),
            (b"#21", Ok(BlockHead::Partial)),
            (b"#14abcd", Ok(BlockHead::Definite { head: 3, length: 4 })),
            (b"#9000000004abcd", Ok(BlockHead::Definite { head: 11, length: 4 })),
            (b"#10", Ok(BlockHead::Definite { head: 3, length: 0 })),
            (b"#(12", Ok(BlockHead::Partial)),
            (b"#(12)", Ok(BlockHead::Definite { head: 5, length: 12 })),
            (b"#(10000000000)", Ok(BlockHead::Definite { head: 14, length: 10_000_000_000 })),
            (b"#0abc", Ok(BlockHead::Indefinite)),
            (b"#HFF", Ok(BlockHead::NotBlock)),
            (b"#2x", Err(DecodeError::BlockHeader { found: b'x' })),
            (b"#()", Err(DecodeError::BlockHeader { found: b')' })),
        ];
        for (bytes, expected) in table {
            assert_eq!(block_head(bytes), *expected, "{:?}", String::from_utf8_lossy(bytes));
        }
    }
}
