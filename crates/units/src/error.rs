//! Why a text is not the quantity that was due.

use thiserror::Error;

/// Why a text is not the quantity that was expected.
///
/// The first line of the message says what is wrong, a second line what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// There is no plain decimal number at the start of the text.
    #[error("expected {expected}, found `{found}`\n{advice}")]
    NotANumber {
        /// What was due, for example `a frequency`.
        expected: &'static str,
        /// What stood there.
        found: String,
        /// How to write it.
        advice: String,
    },
    /// The number has no unit behind it.
    #[error(
        "expected {expected} with its unit, found the bare number `{found}`\nwrite the unit, for example `{example}`"
    )]
    NoUnit {
        /// What was due.
        expected: &'static str,
        /// What stood there.
        found: String,
        /// A text that would be right.
        example: &'static str,
    },
    /// The unit is not one of this quantity.
    #[error("`{unit}` is not a unit of {expected}\n{advice}")]
    WrongUnit {
        /// What was due.
        expected: &'static str,
        /// The unit that stood there.
        unit: String,
        /// Which unit was probably meant, or which would be right.
        advice: String,
    },
    /// The number is not finite, or outside what the quantity can be.
    #[error("expected {expected}, found `{found}`\n{bound}")]
    OutOfRange {
        /// What was due.
        expected: &'static str,
        /// What stood there.
        found: String,
        /// The bound that is not kept.
        bound: &'static str,
    },
}
