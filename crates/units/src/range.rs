//! A closed range of one quantity, written `4..6 W` or `9 kHz..3 GHz`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::text::QuantityError;

/// From the lowest to the highest value, both included.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Range<T> {
    low: T,
    high: T,
}

/// Why a text is not a range. A second line of the message, if there is one, is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RangeError {
    /// There is no `..` in it.
    #[error("expected a range, found `{0}`\nwrite the lowest and the highest value, for example `4..6 W`")]
    NotARange(String),
    /// One end does not read.
    #[error(transparent)]
    End(#[from] QuantityError),
    /// The first end is above the second.
    #[error("the range `{0}` ends below its start\nwrite the lower value first")]
    Reversed(String),
}

impl<T: Copy + PartialOrd> Range<T> {
    /// Makes a range; `None` if `low` is above `high`.
    #[must_use]
    pub fn new(low: T, high: T) -> Option<Self> {
        (low <= high).then_some(Self { low, high })
    }

    /// The lowest value.
    #[must_use]
    pub const fn low(&self) -> T {
        self.low
    }

    /// The highest value.
    #[must_use]
    pub const fn high(&self) -> T {
        self.high
    }

    /// Whether the value lies in the range, ends included.
    #[must_use]
    pub fn contains(&self, value: T) -> bool {
        self.low <= value && value <= self.high
    }
}

impl<T: FromStr<Err = QuantityError> + Copy + PartialOrd> FromStr for Range<T> {
    type Err = RangeError;

    fn from_str(text: &str) -> Result<Self, RangeError> {
        let (low, high) =
            text.split_once("..").ok_or_else(|| RangeError::NotARange(text.trim().to_owned()))?;
        let high_value: T = high.parse()?;
        let unit = high.trim_start_matches(|c: char| c.is_ascii_digit() || " .+-eE".contains(c));
        // `4..6 W` writes the unit once; it holds for both ends.
        let low_value: T = match low.parse() {
            Err(QuantityError::NoUnit { .. }) => format!("{low} {unit}").parse()?,
            other => other?,
        };
        Self::new(low_value, high_value).ok_or_else(|| RangeError::Reversed(text.trim().to_owned()))
    }
}

impl<T: fmt::Display> fmt::Display for Range<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.low.fmt(f)?;
        f.write_str("..")?;
        self.high.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Hertz, Power};

    #[test]
    fn the_unit_may_be_written_once() {
        let range: Range<Power> = "4..6 W".parse().unwrap();
        assert_eq!((range.low().watts().get(), range.high().watts().get()), (4.0, 6.0));
        let range: Range<Hertz> = "9 kHz..3 GHz".parse().unwrap();
        assert_eq!((range.low().get(), range.high().get()), (9e3, 3e9));
        assert!(range.contains(Hertz::new(9e3)) && !range.contains(Hertz::new(8.9e3)));
    }

    #[test]
    fn slips_are_named() {
        assert!(matches!("5 W".parse::<Range<Power>>(), Err(RangeError::NotARange(_))));
        assert!(matches!("6..4 W".parse::<Range<Power>>(), Err(RangeError::Reversed(_))));
        assert!(matches!("4..6".parse::<Range<Power>>(), Err(RangeError::End(QuantityError::NoUnit { .. }))));
    }
}
