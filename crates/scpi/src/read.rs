//! Typed readers: what a unit of an answer says, or a refusal that shows what came instead.

use std::fmt;

use crate::element::text_from;
use crate::elements::bare;
use crate::number::leading;
use crate::{ByteOrder, Element, ErrorCode, InstrumentError, Number, Response, Unit, harmless};

/// What a reader looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expected {
    /// A decimal number or a word for a missing one.
    Number,
    /// A number without a fraction.
    Integer,
    /// `0`, `1`, `OFF` or `ON`.
    Boolean,
    /// A string, quoted or bare.
    String,
    /// A block.
    Block,
    /// `<number>,"<text>"`.
    ErrorEntry,
    /// Four fields between commas.
    Identity,
}

impl fmt::Display for Expected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Number => "a number",
            Self::Integer => "an integer",
            Self::Boolean => "`0` or `1`",
            Self::String => "a string",
            Self::Block => "a block",
            Self::ErrorEntry => "an error entry such as `0,\"No error\"`",
            Self::Identity => "four fields between commas",
        })
    }
}

/// Why an answer does not say what was asked for.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// Another kind of data.
    #[error("expected {expected}, found {found:?}")]
    Kind {
        /// What was looked for.
        expected: Expected,
        /// The start of what came.
        found: String,
    },
    /// Another number of fields between commas.
    #[error("expected {expected} field(s), found {found}")]
    Fields {
        /// What was looked for.
        expected: usize,
        /// What came.
        found: usize,
    },
    /// Another number of answers between semicolons: some query of the message was not answered.
    #[error("expected {expected} answer(s), found {found}")]
    Units {
        /// What the message asked for.
        expected: usize,
        /// What came.
        found: usize,
    },
    /// A block that does not hold whole 32-bit floats.
    #[error("expected a block length that is a multiple of 4 bytes, found {found} bytes")]
    BlockLength {
        /// The length.
        found: usize,
    },
}

/// The answer to `*IDN?`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// Field 1.
    pub maker: String,
    /// Field 2.
    pub model: String,
    /// Field 3; `0` where the maker gives none.
    pub serial: String,
    /// Field 4 and whatever follows it.
    pub firmware: String,
}

impl Response {
    /// The units, if there are exactly `N`.
    ///
    /// # Errors
    /// When the instrument answered more or fewer queries.
    pub fn exactly<const N: usize>(&self) -> Result<&[Unit; N], ReadError> {
        let found = self.units.len();
        self.units.as_slice().try_into().map_err(|_| ReadError::Units { expected: N, found })
    }
}

impl Unit {
    /// The only element; one comma too many behind it is forgiven, as some instruments send.
    ///
    /// # Errors
    /// When there are more or fewer.
    pub fn single(&self) -> Result<&Element, ReadError> {
        match &self.elements[..] {
            [element] => Ok(element),
            [element, Element::Text(last)] if last.is_empty() => Ok(element),
            elements => Err(ReadError::Fields { expected: 1, found: elements.len() }),
        }
    }

    /// One number.
    ///
    /// # Errors
    /// When it is anything else; a unit suffix and a decimal comma are refused.
    pub fn number(&self) -> Result<Number, ReadError> {
        self.single()?.number()
    }

    /// One integer in any decimal form (`4000`, `4.0000E+03`) or as `#H`, `#Q`, `#B`.
    ///
    /// # Errors
    /// When it is anything else, or larger than a float holds exactly (2^53).
    pub fn integer(&self) -> Result<i64, ReadError> {
        self.single()?.integer()
    }

    /// One boolean.
    ///
    /// # Errors
    /// When it is anything else than `0`, `1`, `OFF`, `ON` or another spelling of these numbers.
    pub fn boolean(&self) -> Result<bool, ReadError> {
        let element = self.single()?;
        match element {
            Element::Text(text) if text.eq_ignore_ascii_case(b"ON") => Ok(true),
            Element::Text(text) if text.eq_ignore_ascii_case(b"OFF") => Ok(false),
            _ => match element.integer() {
                Ok(0) => Ok(false),
                Ok(1) => Ok(true),
                _ => Err(element.refused(Expected::Boolean)),
            },
        }
    }

    /// One string, quoted or bare.
    ///
    /// # Errors
    /// When it is a block.
    pub fn string(&self) -> Result<String, ReadError> {
        self.single()?.string()
    }

    /// 32-bit floats from numbers between commas. One trailing comma is forgiven; the caller checks the count.
    /// What is no value becomes an infinity or NaN.
    ///
    /// # Errors
    /// When a field is not a number.
    pub fn f32_list(&self) -> Result<Vec<f32>, ReadError> {
        if let Some(text) = self.elements.run() {
            return listed(text);
        }
        let elements = match &self.elements[..] {
            [list @ .., Element::Text(last)] if last.is_empty() && !list.is_empty() => list,
            elements => elements,
        };
        let mut list = Vec::with_capacity(elements.len());
        for element in elements {
            list.push(element.number()?.to_f32());
        }
        Ok(list)
    }

    /// 32-bit floats from one block (`FORMat REAL,32`). What is no value becomes an infinity or NaN.
    ///
    /// # Errors
    /// When it is not a single block of whole floats.
    pub fn f32_block(&self, order: ByteOrder) -> Result<Vec<f32>, ReadError> {
        self.single()?.f32_block(order)
    }

    /// One entry of the error queue.
    ///
    /// # Errors
    /// When it does not start with an integer in the range of error numbers, or has no text.
    pub fn error_entry(&self) -> Result<InstrumentError, ReadError> {
        let refused = || self.refused(Expected::ErrorEntry);
        let (code, text) = self.elements.split_first().ok_or_else(refused)?;
        let number = code.integer().ok().and_then(|n| i16::try_from(n).ok()).ok_or_else(refused)?;
        if text.is_empty() {
            return Err(refused());
        }
        Ok(InstrumentError { code: ErrorCode::new(number), text: joined(text)? })
    }

    /// The answer to `*IDN?`.
    ///
    /// # Errors
    /// When there are fewer than four fields.
    pub fn identity(&self) -> Result<Identity, ReadError> {
        let [maker, model, serial, firmware @ ..] = &self.elements[..] else {
            return Err(self.refused(Expected::Identity));
        };
        if firmware.is_empty() {
            return Err(self.refused(Expected::Identity));
        }
        Ok(Identity {
            maker: maker.string()?,
            model: model.string()?,
            serial: serial.string()?,
            firmware: joined(firmware)?,
        })
    }

    fn refused(&self, expected: Expected) -> ReadError {
        let mut wire = Vec::new();
        for (i, element) in self.elements.iter().enumerate() {
            if i > 0 {
                wire.push(b',');
            }
            element.write(&mut wire);
        }
        ReadError::Kind { expected, found: shown(&wire) }
    }
}

impl Element {
    /// A number.
    ///
    /// # Errors
    /// When it is not one.
    pub fn number(&self) -> Result<Number, ReadError> {
        match self {
            Self::Text(text) => Number::parse(text).ok_or_else(|| self.refused(Expected::Number)),
            Self::String(_) | Self::Block(_) => Err(self.refused(Expected::Number)),
        }
    }

    fn integer(&self) -> Result<i64, ReadError> {
        let refused = || self.refused(Expected::Integer);
        let Self::Text(text) = self else { return Err(refused()) };
        if let [b'#', base, digits @ ..] = &text[..] {
            let radix = radix(*base).ok_or_else(refused)?;
            let digits = std::str::from_utf8(digits).map_err(|_| refused())?;
            return u32::from_str_radix(digits, radix).map(i64::from).map_err(|_| refused());
        }
        let value = Number::parse(text).and_then(Number::finite).ok_or_else(refused)?;
        if value.fract() == 0.0 && value.abs() <= EXACT { Ok(value as i64) } else { Err(refused()) }
    }

    fn string(&self) -> Result<String, ReadError> {
        match self {
            Self::String(text) => Ok(text.clone()),
            Self::Text(text) => Ok(text_from(text)),
            Self::Block(_) => Err(self.refused(Expected::String)),
        }
    }

    /// 32-bit floats, if this is a block of them.
    ///
    /// # Errors
    /// When it is not a block, or its length is not a multiple of 4.
    pub fn f32_block(&self, order: ByteOrder) -> Result<Vec<f32>, ReadError> {
        let Self::Block(data) = self else { return Err(self.refused(Expected::Block)) };
        let (floats, rest) = data.as_chunks::<4>();
        if !rest.is_empty() {
            return Err(ReadError::BlockLength { found: data.len() });
        }
        Ok(match order {
            ByteOrder::Big => floats_of(floats, u32::from_be_bytes),
            ByteOrder::Little => floats_of(floats, u32::from_le_bytes),
        })
    }

    fn refused(&self, expected: Expected) -> ReadError {
        let mut wire = Vec::new();
        self.write(&mut wire);
        ReadError::Kind { expected, found: shown(&wire) }
    }
}

fn floats_of(block: &[[u8; 4]], bits: impl Fn([u8; 4]) -> u32) -> Vec<f32> {
    let mut list = Vec::with_capacity(block.len());
    let mut seen = 0;
    list.extend(block.iter().map(|bytes| {
        let bits = bits(*bytes);
        seen |= (bits & !SIGN).wrapping_add(SIGN - ORDINARY);
        f32::from_bits(bits)
    }));
    // Marks are rare: that there is none is found out for all at once.
    if seen & SIGN != 0 {
        for float in &mut list {
            *float = Number::from_wire(f64::from(*float)).to_f32();
        }
    }
    list
}

/// The bit of a float that holds its sign.
const SIGN: u32 = 1 << 31;

/// The bits of 2^126. No float whose bits, without the sign, are fewer is a mark of SCPI.
const ORDINARY: u32 = 0x7e80_0000;

/// Up to here every integer is its own float.
const EXACT: f64 = 9_007_199_254_740_992.0;

/// IEEE 488.2 clause 8.7.5 to 8.7.7: hexadecimal, octal and binary answers.
pub(crate) fn radix(base: u8) -> Option<u32> {
    match base.to_ascii_uppercase() {
        b'H' => Some(16),
        b'Q' => Some(8),
        b'B' => Some(2),
        _ => None,
    }
}

/// The numbers of a text between commas, which is never split into elements.
fn listed(text: &[u8]) -> Result<Vec<f32>, ReadError> {
    // A number of a trace and its comma seldom take fewer bytes.
    let mut list = Vec::with_capacity(text.len() / 8);
    let mut rest = Some(text);
    while let Some(mut text) = rest {
        while let [..=b' ', after @ ..] = text {
            text = after;
        }
        if let Some((value, [b',', after @ ..])) = leading(text) {
            list.push(Number::from_wire(value).to_f32());
            rest = Some(after);
            continue;
        }
        let comma = text.iter().position(|&byte| byte == b',');
        let field = bare(&text[..comma.unwrap_or(text.len())]);
        rest = comma.map(|at| &text[at + 1..]);
        if rest.is_none() && field.is_empty() && !list.is_empty() {
            break;
        }
        let refused = || ReadError::Kind { expected: Expected::Number, found: shown(field) };
        list.push(Number::parse(field).ok_or_else(refused)?.to_f32());
    }
    Ok(list)
}

/// Text that contained bare commas, together again.
fn joined(elements: &[Element]) -> Result<String, ReadError> {
    Ok(elements.iter().map(Element::string).collect::<Result<Vec<_>, _>>()?.join(","))
}

fn shown(wire: &[u8]) -> String {
    // It is told in errors, and may come from anything that answers.
    harmless(&text_from(&wire[..wire.len().min(60)]), 60)
}

#[cfg(test)]
mod tests;
