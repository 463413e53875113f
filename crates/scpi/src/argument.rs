//! What the client puts behind a header: always bare numbers in base units, never suffixes.

use crate::MessageError;
use crate::element::quoted;

/// One argument of a command.
#[derive(Clone, Debug, PartialEq)]
pub enum Argument {
    /// A number in the base unit of its quantity (Hz, s, dB, dBm, V, A).
    Number(f64),
    /// A count.
    Integer(i64),
    /// Sent as `1` or `0`.
    Boolean(bool),
    /// A mnemonic such as `MAX` or `TRACE1`: a letter, then letters, digits and underscores.
    Word(String),
    /// Sent in double quotes.
    String(String),
}

impl Argument {
    /// As it is sent. A number is plain decimal with the fewest digits that read back as the same float: never an
    /// exponent, never a locale, so that a frequency keeps its last hertz.
    pub(crate) fn encode(&self) -> Result<String, MessageError> {
        match self {
            // Adding zero turns a negative zero into a plain one.
            Self::Number(value) if value.is_finite() => Ok((value + 0.0).to_string()),
            Self::Number(value) => Err(MessageError::NotFinite { value: *value }),
            Self::Integer(value) => Ok(value.to_string()),
            Self::Boolean(value) => Ok(u8::from(*value).to_string()),
            Self::Word(word) if is_mnemonic(word) => Ok(word.clone()),
            Self::Word(word) => Err(MessageError::Word { found: word.clone() }),
            Self::String(text) if text.contains(char::is_control) => {
                Err(MessageError::ControlCharacter { found: text.clone() })
            }
            Self::String(text) => Ok(quoted(text)),
        }
    }
}

/// A letter, then letters, digits and underscores (IEEE 488.2 clause 7.6.1).
pub(crate) fn is_mnemonic(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_')
}

impl From<f64> for Argument {
    fn from(value: f64) -> Self {
        Self::Number(value)
    }
}

impl From<u32> for Argument {
    fn from(value: u32) -> Self {
        Self::Integer(value.into())
    }
}

impl From<bool> for Argument {
    fn from(value: bool) -> Self {
        Self::Boolean(value)
    }
}

/// A bare word; a quoted string is asked for by name.
impl From<&str> for Argument {
    fn from(word: &str) -> Self {
        Self::Word(word.to_owned())
    }
}
