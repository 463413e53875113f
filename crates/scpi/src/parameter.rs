//! The parameters of a program message unit: how they are read, and what a handler may take them for.

use bytes::Bytes;

use crate::element::text_from;
use crate::lex::Cursor;
use crate::read::radix;
use crate::scan::{BlockHead, block_head};
use crate::{ErrorCode, Quantity, spells};

/// A decimal number as it was written, so that a multiplier shifts it without rounding twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decimal {
    mantissa: String,
    exponent: i32,
}

impl Decimal {
    /// The value times ten to the power of `exponent`; infinite when it is out of range.
    #[must_use]
    pub fn scaled(&self, exponent: i32) -> f64 {
        let text = format!("{}e{}", self.mantissa, self.exponent + exponent);
        text.parse().unwrap_or(f64::NAN)
    }

    /// The value.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.scaled(0)
    }
}

/// One parameter as it stands in the message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Parameter {
    /// A number with the suffix behind it.
    Number {
        /// The number.
        value: Decimal,
        /// The suffix as written; empty if there is none.
        suffix: String,
    },
    /// Character data: a mnemonic.
    Word(String),
    /// A string, without its quotes.
    String(String),
    /// A block's data.
    Block(Bytes),
    /// A channel list `(@1,3:5)`, as first and last channel of each range.
    Channels(Vec<(u32, u32)>),
}

/// What a numeric setting may be given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Numeric {
    /// A value in the base unit.
    Value(f64),
    /// `MINimum`.
    Minimum,
    /// `MAXimum`.
    Maximum,
    /// `DEFault`.
    Default,
    /// `UP`.
    Up,
    /// `DOWN`.
    Down,
}

impl Parameter {
    /// A number of `quantity`, or one of the words that stand for one.
    ///
    /// # Errors
    /// -104 for another type, -131 or -138 for the suffix, -141 for the word, -222 for a number beyond a float.
    pub fn numeric(&self, quantity: Quantity) -> Result<Numeric, ErrorCode> {
        match self {
            Self::Number { value, suffix } => {
                let exponent = if suffix.is_empty() { 0 } else { quantity.exponent(suffix)? };
                let value = value.scaled(exponent);
                if value.is_finite() { Ok(Numeric::Value(value)) } else { Err(ErrorCode::DATA_OUT_OF_RANGE) }
            }
            Self::Word(word) => NUMERIC_WORDS
                .iter()
                .find(|(pattern, _)| spells(pattern, word))
                .map(|(_, numeric)| *numeric)
                .ok_or(ErrorCode::INVALID_CHARACTER_DATA),
            Self::String(_) | Self::Block(_) | Self::Channels(_) => Err(ErrorCode::DATA_TYPE_ERROR),
        }
    }

    /// A boolean: `ON`, `OFF`, or a number, which is rounded and is on unless zero.
    ///
    /// # Errors
    /// -104 for another type, -138 for a suffix, -141 for another word.
    pub fn boolean(&self) -> Result<bool, ErrorCode> {
        match self {
            Self::Number { suffix, .. } if !suffix.is_empty() => Err(ErrorCode::SUFFIX_NOT_ALLOWED),
            Self::Number { value, .. } => Ok(value.value().round() != 0.0),
            Self::Word(word) if spells("ON", word) => Ok(true),
            Self::Word(word) if spells("OFF", word) => Ok(false),
            Self::Word(_) => Err(ErrorCode::INVALID_CHARACTER_DATA),
            Self::String(_) | Self::Block(_) | Self::Channels(_) => Err(ErrorCode::DATA_TYPE_ERROR),
        }
    }

    /// The choice whose pattern (`POSitive`) the word spells in its long or short form.
    ///
    /// # Errors
    /// -104 for another type, -224 for a word that is not among the choices.
    pub fn choice<T: Copy>(&self, choices: &[(&str, T)]) -> Result<T, ErrorCode> {
        let word = self.word()?;
        let found = choices.iter().find(|(pattern, _)| spells(pattern, word));
        found.map(|(_, choice)| *choice).ok_or(ErrorCode::ILLEGAL_PARAMETER_VALUE)
    }

    /// Character data.
    ///
    /// # Errors
    /// -104 for another type.
    pub fn word(&self) -> Result<&str, ErrorCode> {
        if let Self::Word(word) = self { Ok(word) } else { Err(ErrorCode::DATA_TYPE_ERROR) }
    }

    /// A string.
    ///
    /// # Errors
    /// -104 for another type.
    pub fn string(&self) -> Result<&str, ErrorCode> {
        if let Self::String(text) = self { Ok(text) } else { Err(ErrorCode::DATA_TYPE_ERROR) }
    }

    /// A channel list.
    ///
    /// # Errors
    /// -104 for another type.
    pub fn channels(&self) -> Result<&[(u32, u32)], ErrorCode> {
        if let Self::Channels(ranges) = self { Ok(ranges) } else { Err(ErrorCode::DATA_TYPE_ERROR) }
    }

    /// Reads one parameter; the cursor stands on its first byte.
    pub(crate) fn read(cursor: &mut Cursor<'_>) -> Result<Self, ErrorCode> {
        match cursor.peek() {
            Some(b'0'..=b'9' | b'+' | b'-' | b'.') => number(cursor),
            Some(b'A'..=b'Z' | b'a'..=b'z') => {
                let word = cursor.word();
                if word.len() > LONGEST_WORD {
                    Err(ErrorCode::CHARACTER_DATA_TOO_LONG)
                } else {
                    Ok(Self::Word(word))
                }
            }
            Some(quote @ (b'"' | b'\'')) => string(cursor, quote),
            Some(b'#') => block(cursor),
            Some(b'(') => channels(cursor),
            None | Some(b',' | b';' | b':' | b'?' | b'*') => Err(ErrorCode::SYNTAX_ERROR),
            Some(_) => Err(ErrorCode::INVALID_CHARACTER),
        }
    }
}

const NUMERIC_WORDS: [(&str, Numeric); 5] = [
    ("MINimum", Numeric::Minimum),
    ("MAXimum", Numeric::Maximum),
    ("DEFault", Numeric::Default),
    ("UP", Numeric::Up),
    ("DOWN", Numeric::Down),
];

/// IEEE 488.2 clause 7.7.1.4 and 7.6.1.4.1: program mnemonics have at most twelve characters.
pub(crate) const LONGEST_WORD: usize = 12;
/// IEEE 488.2 clause 7.7.2.4.1.
const MOST_DIGITS: usize = 255;
/// IEEE 488.2 clause 7.7.2.4.1.
const LARGEST_EXPONENT: i32 = 32_000;

fn number(cursor: &mut Cursor<'_>) -> Result<Parameter, ErrorCode> {
    let mut mantissa = String::new();
    if let Some(sign @ (b'+' | b'-')) = cursor.peek() {
        cursor.advance(1);
        mantissa.push(char::from(sign));
    }
    let whole = cursor.run(|b| b.is_ascii_digit());
    let part = if cursor.eat(b'.') { cursor.run(|b| b.is_ascii_digit()) } else { &[] };
    if whole.is_empty() && part.is_empty() {
        return Err(ErrorCode::NUMERIC_DATA_ERROR);
    }
    if whole.len() + part.len() > MOST_DIGITS {
        return Err(ErrorCode::TOO_MANY_DIGITS);
    }
    mantissa.extend(whole.iter().chain(b".").chain(part).map(|&b| char::from(b)));
    let exponent = exponent(cursor)?;
    if matches!(cursor.peek(), Some(b'.' | b'+' | b'-' | b'_')) {
        return Err(ErrorCode::INVALID_CHARACTER_IN_NUMBER);
    }
    Ok(Parameter::Number { value: Decimal { mantissa, exponent }, suffix: suffix(cursor)? })
}

/// `E` with a number behind it, blanks allowed around it; else `E` begins a suffix such as `EXHZ`.
fn exponent(cursor: &mut Cursor<'_>) -> Result<i32, ErrorCode> {
    let mut ahead = cursor.clone();
    ahead.blanks();
    if !(ahead.eat(b'E') || ahead.eat(b'e')) {
        return Ok(0);
    }
    ahead.blanks();
    let negative = ahead.eat(b'-');
    if !negative {
        ahead.eat(b'+');
    }
    let digits = ahead.run(|b| b.is_ascii_digit());
    if digits.is_empty() {
        return Ok(0);
    }
    let size = digits.iter().fold(0_i32, |n, &b| n.saturating_mul(10).saturating_add(i32::from(b - b'0')));
    if size > LARGEST_EXPONENT {
        return Err(ErrorCode::EXPONENT_TOO_LARGE);
    }
    *cursor = ahead;
    Ok(if negative { -size } else { size })
}

fn suffix(cursor: &mut Cursor<'_>) -> Result<String, ErrorCode> {
    let mut ahead = cursor.clone();
    ahead.blanks();
    if !ahead.peek().is_some_and(|b| b.is_ascii_alphabetic()) {
        return Ok(String::new());
    }
    let suffix = ahead.word();
    *cursor = ahead;
    if suffix.len() > LONGEST_WORD { Err(ErrorCode::SUFFIX_TOO_LONG) } else { Ok(suffix) }
}

fn string(cursor: &mut Cursor<'_>, quote: u8) -> Result<Parameter, ErrorCode> {
    cursor.advance(1);
    let mut text = Vec::new();
    loop {
        text.extend_from_slice(cursor.run(|b| b != quote));
        if !cursor.eat(quote) {
            return Err(ErrorCode::INVALID_STRING_DATA);
        }
        // A doubled quote stands for itself.
        if !cursor.eat(quote) {
            return Ok(Parameter::String(text_from(&text)));
        }
        text.push(quote);
    }
}

fn block(cursor: &mut Cursor<'_>) -> Result<Parameter, ErrorCode> {
    let rest = cursor.rest();
    let (head, length) = match block_head(rest).map_err(|error| error.code())? {
        BlockHead::Partial => return Err(ErrorCode::INVALID_BLOCK_DATA),
        BlockHead::NotBlock => return based(cursor),
        BlockHead::Definite { head, length } => (head, length),
        BlockHead::Indefinite => (2, rest.len() as u64 - 2),
    };
    let data = usize::try_from(length).ok().and_then(|length| rest[head..].get(..length));
    let data = data.ok_or(ErrorCode::INVALID_BLOCK_DATA)?;
    cursor.advance(head + data.len());
    Ok(Parameter::Block(Bytes::copy_from_slice(data)))
}

/// `#H`, `#Q` or `#B` with digits (IEEE 488.2 clause 7.7.4).
fn based(cursor: &mut Cursor<'_>) -> Result<Parameter, ErrorCode> {
    cursor.advance(1);
    let base = cursor.peek().and_then(radix).ok_or(ErrorCode::INVALID_CHARACTER)?;
    cursor.advance(1);
    let value = u64::from_str_radix(&cursor.word(), base).map_err(|_| ErrorCode::NUMERIC_DATA_ERROR)?;
    Ok(Parameter::Number {
        value: Decimal { mantissa: value.to_string(), exponent: 0 },
        suffix: String::new(),
    })
}

fn channels(cursor: &mut Cursor<'_>) -> Result<Parameter, ErrorCode> {
    let inside = cursor.run(|b| !matches!(b, b')' | b'"' | b'\'' | b';'));
    let list = inside.strip_prefix(b"(@").ok_or(ErrorCode::INVALID_EXPRESSION)?;
    if !cursor.eat(b')') {
        return Err(ErrorCode::INVALID_EXPRESSION);
    }
    let list = std::str::from_utf8(list).map_err(|_| ErrorCode::INVALID_EXPRESSION)?;
    let channel = |text: &str| {
        let text = text.trim();
        let digits = text.bytes().all(|b| b.is_ascii_digit());
        text.parse().ok().filter(|_| digits).ok_or(ErrorCode::INVALID_EXPRESSION)
    };
    let range = |text: &str| {
        let (first, last) = text.split_once(':').unwrap_or((text, text));
        Ok((channel(first)?, channel(last)?))
    };
    if list.trim().is_empty() {
        return Ok(Parameter::Channels(Vec::new()));
    }
    list.split(',').map(range).collect::<Result<_, _>>().map(Parameter::Channels)
}

#[cfg(test)]
mod tests;
