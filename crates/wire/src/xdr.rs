//! The few data types of XDR (RFC 4506) that VXI-11 is made of: every item fills a multiple of four bytes.

use bytes::{Buf, BufMut, Bytes, BytesMut};

/// Why bytes are not the items that were expected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum XdrError {
    /// The bytes end within an item.
    #[error("expected {expected} more bytes, found {found} bytes")]
    Short {
        /// What the item needs.
        expected: usize,
        /// What is left.
        found: usize,
    },
    /// A boolean that is neither 0 nor 1.
    #[error("expected 0 or 1, found {found}")]
    Boolean {
        /// The number in its place.
        found: u32,
    },
    /// Something is left behind the last item.
    #[error("expected the end of the items, found {left} bytes more")]
    Trailing {
        /// How many.
        left: usize,
    },
}

/// Reads items; opaque data is cut out, not copied.
#[derive(Clone, Debug)]
pub struct Reader(Bytes);

impl Reader {
    /// A reader of `bytes`.
    #[must_use]
    pub const fn new(bytes: Bytes) -> Self {
        Self(bytes)
    }

    /// An unsigned integer (RFC 4506 clause 4.2).
    ///
    /// # Errors
    ///
    /// [`XdrError::Short`] if the bytes end before it does.
    pub fn u32(&mut self) -> Result<u32, XdrError> {
        self.0.try_get_u32().map_err(|_| XdrError::Short { expected: 4, found: self.0.len() })
    }

    /// An integer (clause 4.1).
    ///
    /// # Errors
    ///
    /// [`XdrError::Short`] if the bytes end before it does.
    pub fn i32(&mut self) -> Result<i32, XdrError> {
        self.u32().map(u32::cast_signed)
    }

    /// A boolean (clause 4.4).
    ///
    /// # Errors
    ///
    /// [`XdrError::Short`], or [`XdrError::Boolean`] if it is neither 0 nor 1.
    pub fn bool(&mut self) -> Result<bool, XdrError> {
        match self.u32()? {
            0 => Ok(false),
            1 => Ok(true),
            found => Err(XdrError::Boolean { found }),
        }
    }

    /// Opaque data or a string of variable length (clauses 4.10 and 4.11). No more can be announced than is there.
    ///
    /// # Errors
    ///
    /// [`XdrError::Short`] if the data or their padding end before the announced length.
    pub fn opaque(&mut self) -> Result<Bytes, XdrError> {
        let announced = self.u32()? as usize;
        let found = self.0.len();
        let padded = announced.checked_next_multiple_of(4).unwrap_or(usize::MAX);
        if padded > found {
            return Err(XdrError::Short { expected: padded, found });
        }
        let mut item = self.0.split_to(padded);
        item.truncate(announced);
        Ok(item)
    }

    /// Checks that nothing is left.
    ///
    /// # Errors
    ///
    /// [`XdrError::Trailing`] if something is.
    pub fn end(self) -> Result<(), XdrError> {
        if self.0.is_empty() { Ok(()) } else { Err(XdrError::Trailing { left: self.0.len() }) }
    }
}

/// Writes items.
#[derive(Clone, Debug, Default)]
pub struct Writer(BytesMut);

impl Writer {
    /// Nothing written yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// An unsigned integer.
    #[must_use]
    pub fn u32(mut self, value: u32) -> Self {
        self.0.put_u32(value);
        self
    }

    /// An integer.
    #[must_use]
    pub fn i32(mut self, value: i32) -> Self {
        self.0.put_i32(value);
        self
    }

    /// A boolean.
    #[must_use]
    pub fn bool(self, value: bool) -> Self {
        self.u32(value.into())
    }

    /// Opaque data or a string of variable length.
    ///
    /// # Panics
    ///
    /// If there are more than 4 GiB of it, which no record can carry.
    #[must_use]
    pub fn opaque(mut self, data: &[u8]) -> Self {
        let length = u32::try_from(data.len()).expect("a record carries less than 2 GiB");
        self.0.reserve(data.len() + 8);
        self.0.put_u32(length);
        self.0.put_slice(data);
        self.0.put_bytes(0, data.len().next_multiple_of(4) - data.len());
        self
    }

    /// What was written.
    #[must_use]
    pub fn bytes(self) -> Bytes {
        self.0.freeze()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// RFC 4506 clause 4.10: length, data, then zeros to a multiple of four; clause 7 has `sillyprog` as example.
    #[test]
    fn items_have_the_bytes_of_the_standard() {
        let bytes = Writer::new().opaque(b"sillyprog").i32(-2).bool(true).u32(6).bytes();
        assert_eq!(&bytes[..], b"\0\0\0\x09sillyprog\0\0\0\xff\xff\xff\xfe\0\0\0\x01\0\0\0\x06");
        let mut reader = Reader::new(bytes);
        assert_eq!(reader.opaque().unwrap(), &b"sillyprog"[..]);
        assert_eq!((reader.i32(), reader.bool(), reader.u32()), (Ok(-2), Ok(true), Ok(6)));
        assert_eq!(reader.end(), Ok(()));
    }

    #[test]
    fn slips_are_named() {
        let read = |bytes: &'static [u8]| Reader::new(Bytes::from_static(bytes));
        assert_eq!(read(b"\0\0").u32(), Err(XdrError::Short { expected: 4, found: 2 }));
        assert_eq!(read(b"\0\0\0\x02").bool(), Err(XdrError::Boolean { found: 2 }));
        assert_eq!(read(b"\0\0\0\x03abc").opaque(), Err(XdrError::Short { expected: 4, found: 3 }));
        assert!(matches!(read(b"\xff\xff\xff\xffabcd").opaque(), Err(XdrError::Short { found: 4, .. })));
        assert_eq!(read(b"x").end(), Err(XdrError::Trailing { left: 1 }));
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(a in any::<u32>(), b in any::<i32>(), c in any::<bool>(),
            data in prop::collection::vec(any::<u8>(), 0..50)) {
            let bytes = Writer::new().u32(a).opaque(&data).bool(c).i32(b).bytes();
            prop_assert_eq!(bytes.len() % 4, 0);
            let mut reader = Reader::new(bytes);
            prop_assert_eq!(reader.u32(), Ok(a));
            prop_assert_eq!(reader.opaque().unwrap(), data);
            prop_assert_eq!(reader.bool(), Ok(c));
            prop_assert_eq!(reader.i32(), Ok(b));
            prop_assert_eq!(reader.end(), Ok(()));
        }
    }
}
