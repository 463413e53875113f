//! How a quantity is written: a decimal number, a blank, a prefix and a unit.

use thiserror::Error;

/// Why a text is not the quantity that was expected.
///
/// The first line of the message says what is wrong, a second line, if there is one, what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// There is no number at the start of the text.
    #[error("expected {expected}, found `{found}`\nwrite a number and a unit, for example `{example}`")]
    NotANumber {
        /// What was due, for example `a frequency`.
        expected: &'static str,
        /// What stood there.
        found: String,
        /// A text that would be right.
        example: &'static str,
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
    #[error("`{unit}` is not a unit of {expected}\nunits understood here: {known}")]
    WrongUnit {
        /// What was due.
        expected: &'static str,
        /// The unit that stood there.
        unit: String,
        /// The units that would be right.
        known: String,
    },
    /// The unit is right but for upper and lower case, or is a milli where a mega is meant.
    #[error("`{unit}` is not a unit of {expected}\ndid you mean `{meant}`? Case matters in a unit")]
    WrongCase {
        /// What was due.
        expected: &'static str,
        /// The unit that stood there.
        unit: String,
        /// The unit that was probably meant.
        meant: &'static str,
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

/// How one quantity is written.
pub(crate) struct Notation {
    /// What the quantity is called in a message.
    pub(crate) what: &'static str,
    /// A text that is right.
    pub(crate) example: &'static str,
    /// Units with their factor to the base unit, base unit first.
    pub(crate) units: &'static [(&'static str, f64)],
    /// Whether a value below zero means something.
    pub(crate) signed: bool,
    /// The largest magnitude that can be meant, in the base unit: sums and powers of it stay finite.
    pub(crate) most: f64,
    /// The same in words.
    pub(crate) bound: &'static str,
}

impl Notation {
    /// Reads `text` and returns the value in the base unit.
    pub(crate) fn parse(&self, text: &str) -> Result<f64, QuantityError> {
        let trimmed = text.trim();
        let (number, unit) = split(trimmed);
        let value = number.parse::<f64>().map_err(|_| QuantityError::NotANumber {
            expected: self.what,
            found: trimmed.to_owned(),
            example: self.example,
        })?;
        if unit.is_empty() {
            return Err(QuantityError::NoUnit {
                expected: self.what,
                found: trimmed.to_owned(),
                example: self.example,
            });
        }
        let factor = self.factor(unit)?;
        self.bounded(scale(value, factor), trimmed)
    }

    /// Passes `value` on if this quantity can have it.
    pub(crate) fn bounded(&self, value: f64, found: &str) -> Result<f64, QuantityError> {
        let bound = if !value.is_finite() {
            "the number must be finite"
        } else if value < 0.0 && !self.signed {
            "it cannot be less than zero"
        } else if value.abs() > self.most {
            self.bound
        } else {
            return Ok(value);
        };
        Err(QuantityError::OutOfRange { expected: self.what, found: found.to_owned(), bound })
    }

    fn factor(&self, unit: &str) -> Result<f64, QuantityError> {
        if let Some((_, factor)) = self.units.iter().find(|(name, _)| *name == unit) {
            return Ok(*factor);
        }
        // `mHz` and `MHz` differ only in case, as do `mW` and `MW`: where a small prefix exists it has matched.
        match self.units.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit)) {
            Some((meant, _)) => {
                Err(QuantityError::WrongCase { expected: self.what, unit: unit.to_owned(), meant })
            }
            None => Err(QuantityError::WrongUnit {
                expected: self.what,
                unit: unit.to_owned(),
                known: self.units.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", "),
            }),
        }
    }

    /// Writes `value` (in the base unit) with the largest unit that leaves at least 1 before the point.
    ///
    /// Rounded to 9 digits behind the point, without trailing zeros, unless a precision is asked for.
    pub(crate) fn format(&self, value: f64, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut sorted: Vec<_> = self.units.to_vec();
        sorted.sort_by(|a, b| b.1.total_cmp(&a.1));
        let magnitude = value.abs();
        let (unit, factor) = sorted
            .iter()
            .copied()
            .find(|(_, factor)| magnitude >= *factor * (1.0 - 1e-12))
            .unwrap_or(if magnitude == 0.0 { self.units[0] } else { sorted[sorted.len() - 1] });
        let shown = unscale(value, factor);
        match f.precision() {
            Some(digits) => write!(f, "{shown:.digits$} {unit}"),
            None => write!(f, "{} {unit}", trim(shown)),
        }
    }
}

/// Multiplies by a power of ten so that decimal texts come out exact: small factors divide.
fn scale(value: f64, factor: f64) -> f64 {
    if factor < 1.0 { value / (1.0 / factor).round() } else { value * factor }
}

fn unscale(value: f64, factor: f64) -> f64 {
    if factor < 1.0 { value * (1.0 / factor).round() } else { value / factor }
}

fn trim(value: f64) -> String {
    let text = format!("{value:.9}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn split(text: &str) -> (&str, &str) {
    let end = text
        .char_indices()
        .find(|&(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[at + 1..].starts_with(|n: char| n.is_ascii_digit() || n == '-' || n == '+');
            !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-') || exponent)
        })
        .map_or(text.len(), |(at, _)| at);
    (&text[..end], text[end..].trim_start())
}
