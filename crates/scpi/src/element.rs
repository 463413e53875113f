//! One data element of an answer, and how it is written.

use std::fmt::Write;

use bytes::Bytes;

use crate::Number;

/// Which end of a binary number comes first: `FORMat:BORDer NORMal` is big-endian (SCPI-1999 volume 2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ByteOrder {
    /// `NORMal`: most significant byte first.
    Big,
    /// `SWAPped`: least significant byte first.
    Little,
}

/// One data element between commas.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Element {
    /// A number, a mnemonic or bare text, without the blanks around it.
    Text(Bytes),
    /// A quoted string without its quotes; doubled quotes are single again.
    String(String),
    /// The data of a block without its header.
    Block(Bytes),
}

impl Element {
    /// An integer as NR1.
    #[must_use]
    pub fn from_integer(value: i64) -> Self {
        Self::Text(value.to_string().into())
    }

    /// A number as NR3.
    #[must_use]
    pub fn from_number(value: Number) -> Self {
        Self::Text(value.nr3().into())
    }

    /// A boolean as `1` or `0`.
    #[must_use]
    pub fn from_bool(value: bool) -> Self {
        Self::from_integer(i64::from(value))
    }

    /// A mnemonic or other bare text.
    #[must_use]
    pub fn from_word(text: &str) -> Self {
        Self::Text(Bytes::copy_from_slice(text.as_bytes()))
    }

    /// A quoted string.
    #[must_use]
    pub fn from_string(text: &str) -> Self {
        Self::String(text.to_owned())
    }

    /// 32-bit floats as a block: `FORMat REAL,32`.
    #[must_use]
    pub fn from_f32s(values: &[f32], order: ByteOrder) -> Self {
        Self::from_binary(values, order, f32::to_be_bytes, f32::to_le_bytes)
    }

    /// 64-bit floats as a block: `FORMat REAL,64`.
    #[must_use]
    pub fn from_f64s(values: &[f64], order: ByteOrder) -> Self {
        Self::from_binary(values, order, f64::to_be_bytes, f64::to_le_bytes)
    }

    /// 32-bit integers with sign as a block: `FORMat INTeger,32`.
    #[must_use]
    pub fn from_i32s(values: &[i32], order: ByteOrder) -> Self {
        Self::from_binary(values, order, i32::to_be_bytes, i32::to_le_bytes)
    }

    fn from_binary<T: Copy, const N: usize>(
        values: &[T],
        order: ByteOrder,
        big: fn(T) -> [u8; N],
        little: fn(T) -> [u8; N],
    ) -> Self {
        let bytes = values.iter().flat_map(|value| match order {
            ByteOrder::Big => big(*value),
            ByteOrder::Little => little(*value),
        });
        Self::Block(bytes.collect())
    }

    /// How many bytes the element takes at least on the wire.
    #[must_use]
    pub fn size(&self) -> usize {
        match self {
            Self::Text(data) | Self::Block(data) => data.len(),
            Self::String(text) => text.len(),
        }
    }

    /// Appends the element as it goes over the wire.
    pub(crate) fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Text(text) => out.extend_from_slice(text),
            Self::String(text) => out.extend_from_slice(quoted(text).as_bytes()),
            Self::Block(data) => {
                let mut head = String::new();
                let length = data.len().to_string();
                // Writing to a string cannot fail; nine digits are all that the standard header can count.
                let written = if length.len() <= 9 {
                    write!(head, "#{}{length}", length.len())
                } else {
                    write!(head, "#({length})")
                };
                debug_assert!(written.is_ok());
                out.extend_from_slice(head.as_bytes());
                out.extend_from_slice(data);
            }
        }
    }
}

/// A block without a length, `#0`: it lasts until the end of the message (IEEE 488.2 clause 8.7.10).
pub(crate) fn write_indefinite(data: &[u8], out: &mut Vec<u8>) {
    out.extend_from_slice(b"#0");
    out.extend_from_slice(data);
}

/// In double quotes, with quotes inside doubled (IEEE 488.2 clause 8.7.8).
pub(crate) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// Text from the wire: UTF-8 where it is, else Latin-1, so that no byte is lost.
pub(crate) fn text_from(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}
