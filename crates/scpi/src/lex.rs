//! A cursor over the bytes of one program message.

/// Looks at bytes and moves on; never beyond the end.
#[derive(Clone, Debug)]
pub(crate) struct Cursor<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    pub(crate) fn at(&self) -> usize {
        self.at
    }

    pub(crate) fn rest(&self) -> &'a [u8] {
        &self.bytes[self.at..]
    }

    pub(crate) fn peek(&self) -> Option<u8> {
        self.rest().first().copied()
    }

    /// Moves on by `count` bytes or to the end.
    pub(crate) fn advance(&mut self, count: usize) {
        self.at = (self.at + count).min(self.bytes.len());
    }

    /// Moves over `byte` if it is next.
    pub(crate) fn eat(&mut self, byte: u8) -> bool {
        let next = self.peek() == Some(byte);
        if next {
            self.at += 1;
        }
        next
    }

    /// Moves over all bytes that `belongs` holds for, and returns them.
    pub(crate) fn run(&mut self, belongs: impl Fn(u8) -> bool) -> &'a [u8] {
        let rest = self.rest();
        let length = rest.iter().take_while(|&&b| belongs(b)).count();
        self.at += length;
        &rest[..length]
    }

    /// White space: every control character and the blank (IEEE 488.2 clause 7.4.1.2).
    pub(crate) fn blanks(&mut self) -> bool {
        !self.run(|b| b <= b' ').is_empty()
    }

    /// Letters, digits and underscores.
    pub(crate) fn word(&mut self) -> String {
        let word = self.run(|b| b.is_ascii_alphanumeric() || b == b'_');
        word.iter().map(|&b| char::from(b)).collect()
    }
}
