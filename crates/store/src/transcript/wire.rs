//! Numbers and texts as bytes, and back from bytes that may be anything.

use crate::error::Damage;

/// Seven bits a byte, the lowest first; the highest bit says that more follow (LEB128).
pub(super) fn put_number(into: &mut Vec<u8>, mut number: u128) {
    while number >= 0x80 {
        into.push(number as u8 | 0x80);
        number >>= 7;
    }
    into.push(number as u8);
}

/// Small numbers of either sign become small numbers.
pub(super) fn put_signed(into: &mut Vec<u8>, number: i128) {
    put_number(into, (number.cast_unsigned() << 1) ^ (number >> 127).cast_unsigned());
}

/// The length, then the bytes.
pub(super) fn put_bytes(into: &mut Vec<u8>, bytes: &[u8]) {
    put_number(into, bytes.len() as u128);
    into.extend_from_slice(bytes);
}

/// Reads what the others put; nothing that it gives out is longer than what it was given.
#[derive(Debug)]
pub(super) struct Reader<'a>(pub(super) &'a [u8]);

impl<'a> Reader<'a> {
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(super) fn byte(&mut self) -> Result<u8, Damage> {
        let (first, rest) = self.0.split_first().ok_or(CUT)?;
        self.0 = rest;
        Ok(*first)
    }

    pub(super) fn number(&mut self) -> Result<u128, Damage> {
        let mut number = 0u128;
        for shift in (0..128).step_by(7) {
            let byte = self.byte()?;
            let bits = u128::from(byte & 0x7f);
            if bits.leading_zeros() < shift {
                break;
            }
            number |= bits << shift;
            if byte & 0x80 == 0 {
                return Ok(number);
            }
        }
        Err(Damage::Transcript("a number is too large"))
    }

    pub(super) fn signed(&mut self) -> Result<i128, Damage> {
        let number = self.number()?;
        Ok((number >> 1).cast_signed() ^ -((number & 1).cast_signed()))
    }

    /// A number that counts or names something.
    pub(super) fn count(&mut self) -> Result<usize, Damage> {
        usize::try_from(self.number()?).map_err(|_| Damage::Transcript("a number is too large"))
    }

    pub(super) fn bytes(&mut self) -> Result<&'a [u8], Damage> {
        let length = self.count()?;
        let (first, rest) = self.0.split_at_checked(length).ok_or(CUT)?;
        self.0 = rest;
        Ok(first)
    }

    pub(super) fn text(&mut self) -> Result<&'a str, Damage> {
        std::str::from_utf8(self.bytes()?).map_err(|_| Damage::Transcript("a name is not a text"))
    }
}

const CUT: Damage = Damage::Transcript("it ends in the middle of a message");

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn numbers_of_every_size_come_back(number: i128, shift in 0u32..128) {
            let number = number >> shift;
            let mut bytes = Vec::new();
            put_signed(&mut bytes, number);
            let mut reader = Reader(&bytes);
            prop_assert_eq!(reader.signed(), Ok(number));
            prop_assert!(reader.is_empty());
        }
    }

    /// DWARF 5, 7.6, figure 22: 2 is 02, 127 is 7f, 128 is 80 01, 129 is 81 01, 12857 is b9 64.
    #[test]
    fn numbers_are_written_as_the_published_table_has_them() {
        let table: [(u128, &[u8]); 5] =
            [(2, &[2]), (127, &[0x7f]), (128, &[0x80, 1]), (129, &[0x81, 1]), (12857, &[0xb9, 0x64])];
        for (number, expected) in table {
            let mut bytes = Vec::new();
            put_number(&mut bytes, number);
            assert_eq!(bytes, expected);
        }
    }

    #[test]
    fn a_number_of_more_bits_than_there_are_is_refused() {
        let mut most = Vec::new();
        put_number(&mut most, u128::MAX);
        assert_eq!(Reader(&most).number(), Ok(u128::MAX));
        for hostile in [&[0xff; 40][..], &[[0x80; 18].as_slice(), &[4]].concat()] {
            assert!(Reader(hostile).number().is_err(), "{hostile:?}");
        }
    }
}
