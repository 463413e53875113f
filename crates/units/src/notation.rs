//! How a quantity is written: a decimal number, a blank, a prefix and a unit.

use std::fmt;

use crate::error::QuantityError;
use crate::number::{Decimal, fixed, short, split};
use crate::{spelling, unit_hint};

/// How one quantity is written.
pub(crate) struct Notation {
    /// What the quantity is called in a message.
    pub(crate) what: &'static str,
    /// A text that is right.
    pub(crate) example: &'static str,
    /// Units with their factor to the base unit, the one for zero first.
    pub(crate) units: &'static [(&'static str, f64)],
    /// The lowest value that can be meant, in the base unit.
    pub(crate) least: f64,
    /// The highest value that can be meant, in the base unit: sums and powers of it stay finite.
    pub(crate) most: f64,
    /// Both bounds in words.
    pub(crate) bound: &'static str,
    /// Digits behind the point in print; without, as many as are needed, up to 9.
    pub(crate) digits: Option<usize>,
}

impl Notation {
    /// Reads `text` and returns the value in the base unit.
    pub(crate) fn parse(&self, text: &str) -> Result<f64, QuantityError> {
        let text = text.trim();
        let (number, unit) = split(text);
        let number = Decimal::read(number).filter(|_| !unit.starts_with(spelling::is_part_of_number));
        let Some(number) = number else {
            let advice = spelling::advice(self, text);
            return Err(QuantityError::NotANumber { expected: self.what, found: text.to_owned(), advice });
        };
        if unit.is_empty() {
            return Err(QuantityError::NoUnit {
                expected: self.what,
                found: text.to_owned(),
                example: self.example,
            });
        }
        let plain = plain(unit);
        match self.units.iter().find(|(name, _)| *name == plain) {
            Some((_, factor)) => self.bounded(number.times(*factor), text),
            None => Err(unit_hint::wrong_unit(&[self], unit)),
        }
    }

    fn bounded(&self, value: f64, found: &str) -> Result<f64, QuantityError> {
        let bound = if !value.is_finite() {
            "the number must be finite"
        } else if self.least == 0.0 && value < 0.0 {
            "it cannot be less than zero"
        } else if value < self.least || value > self.most {
            self.bound
        } else {
            return Ok(value);
        };
        Err(QuantityError::OutOfRange { expected: self.what, found: found.to_owned(), bound })
    }

    /// Writes `value` (in the base unit) with the largest unit that leaves at least 1 before the point.
    pub(crate) fn format(&self, value: f64, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let magnitude = value.abs();
        let by_factor = |a: &&(&str, f64), b: &&(&str, f64)| a.1.total_cmp(&b.1);
        // `max_by` keeps the last of units that are worth the same, `min_by` the first; the first is the one wanted.
        // 100 s is not 1.666666667 min: minutes and hours only where they come out whole.
        let whole = |factor: f64| factor.log10().fract().abs() < 1e-9 || (magnitude / factor).fract() == 0.0;
        let fits = |unit: &&(&str, f64)| magnitude >= unit.1 * (1.0 - 1e-12) && whole(unit.1);
        let fitting = self.units.iter().rev().filter(fits).max_by(by_factor);
        let smallest = self.units.iter().min_by(by_factor).filter(|_| magnitude > 0.0);
        let (unit, factor) = *fitting.or(smallest).unwrap_or(&self.units[0]);
        // Small factors have no exact binary form, their inverses have: decimal values come out as they went in.
        let inverse = (1.0 / factor).round();
        let shown = if (inverse * factor - 1.0).abs() < 1e-12 { value * inverse } else { value / factor };
        match f.precision().or(self.digits) {
            Some(digits) => write!(f, "{} {unit}", fixed(shown, digits)),
            None => write!(f, "{} {unit}", short(shown)),
        }
    }
}

/// The unit in plain letters: the micro and the ohm sign have two code points each, which look alike.
pub(crate) fn plain(unit: &str) -> String {
    unit.replace(['\u{b5}', '\u{3bc}'], "u").replace(['\u{3a9}', '\u{2126}'], "ohm")
}
