//! A closed range of one quantity, written `4..6 W` or `9 kHz..3 GHz`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::error::QuantityError;
use crate::number::split;

/// From the lowest to the highest value, both included.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Ends<T>", bound(deserialize = "T: Deserialize<'de> + Copy + PartialOrd"))]
pub struct Range<T> {
    low: T,
    high: T,
}

/// The ends of a range before they are compared.
#[derive(Deserialize)]
#[serde(rename = "Range")]
struct Ends<T> {
    low: T,
    high: T,
}

impl<T: Copy + PartialOrd> TryFrom<Ends<T>> for Range<T> {
    type Error = &'static str;

    fn try_from(ends: Ends<T>) -> Result<Self, Self::Error> {
        Self::new(ends.low, ends.high).ok_or("the range ends below its start")
    }
}

/// Why a text is not a range. A second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RangeError {
    /// There is no `..` between two values.
    #[error("expected a range, found `{found}`\n{advice}")]
    NotARange {
        /// What stood there.
        found: String,
        /// How to write it.
        advice: String,
    },
    /// The highest value has no unit.
    #[error(
        "expected a range with its unit, found `{found}`\nwrite the unit behind the highest value, for example `{example}`"
    )]
    NoUnit {
        /// What stood there.
        found: String,
        /// The same with a unit.
        example: String,
    },
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

impl<T: FromStr<Err = QuantityError> + Copy + PartialOrd> Range<T> {
    /// Reads both ends of the range that is written as `text`.
    fn ends(text: &str, low: &str, high: &str) -> Result<Self, RangeError> {
        let high_value: T = high.parse()?;
        // `4..6 W` writes the unit once; it holds for both ends.
        let low_value: T = match low.parse() {
            Err(QuantityError::NoUnit { .. }) => format!("{low} {}", split(high.trim()).1).parse()?,
            other => other?,
        };
        Self::new(low_value, high_value).ok_or_else(|| RangeError::Reversed(text.to_owned()))
    }

    /// The same; where only the unit is missing, the unit of the lowest value is proposed, else a common one.
    fn between(text: &str, low: &str, high: &str) -> Result<Self, RangeError> {
        let (low, high) = (low.trim(), high.trim());
        Self::ends(text, low, high).map_err(|error| {
            let RangeError::End(QuantityError::NoUnit { example, .. }) = error else { return error };
            let common = split(example).1;
            let with = |unit: &str| format!("{high} {unit}");
            let right =
                [split(low).1, common].into_iter().find(|unit| Self::ends(text, low, &with(unit)).is_ok());
            let high = with(right.unwrap_or(common));
            match Self::ends(text, low, &high) {
                Ok(_) => RangeError::NoUnit { found: text.to_owned(), example: format!("{low}..{high}") },
                Err(other) => other,
            }
        })
    }

    /// The range that `text` was probably meant to be, spelled as it should be.
    fn respelled(text: &str) -> Option<String> {
        const BETWEEN: [&str; 8] = ["...", "\u{2026}", " to ", "-", "\u{2212}", "\u{2013}", "\u{2014}", "~"];
        let marks = BETWEEN.iter().flat_map(|mark| text.match_indices(mark));
        marks.into_iter().find_map(|(at, mark)| {
            let (low, high) = (&text[..at], &text[at + mark.len()..]);
            match Self::between(text, low, high) {
                Ok(_) => Some(format!("{}..{}", low.trim(), high.trim())),
                Err(RangeError::NoUnit { example, .. }) => Some(example),
                Err(_) => None,
            }
        })
    }
}

impl<T: FromStr<Err = QuantityError> + Copy + PartialOrd> FromStr for Range<T> {
    type Err = RangeError;

    fn from_str(text: &str) -> Result<Self, RangeError> {
        let text = text.trim();
        // Three dots are refused: `0...6 W` must not become a range up to `.6 W`.
        if let Some((low, high)) = text.split_once("..").filter(|(_, high)| !high.starts_with('.')) {
            return Self::between(text, low, high);
        }
        let advice = Self::respelled(text).map_or_else(
            || "write the lowest and the highest value, for example `4..6 W`".to_owned(),
            |right| format!("write `{right}`"),
        );
        Err(RangeError::NotARange { found: text.to_owned(), advice })
    }
}

impl<T: fmt::Display> fmt::Display for Range<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let write = |value: &T| match f.precision() {
            Some(digits) => format!("{value:.digits$}"),
            None => value.to_string(),
        };
        let (low, high) = (write(&self.low), write(&self.high));
        // A unit that both ends share is written once.
        let short = low.rsplit_once(' ').zip(high.rsplit_once(' ')).filter(|(low, high)| low.1 == high.1);
        write!(f, "{}..{high}", short.map_or(low.as_str(), |(low, _)| low.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Dbm, Hertz, Power};

    #[test]
    fn the_unit_may_be_written_once() {
        let range: Range<Power> = "4..6 W".parse().unwrap();
        assert_eq!((range.low().watts().get(), range.high().watts().get()), (4.0, 6.0));
        let range: Range<Hertz> = "9 kHz..3 GHz".parse().unwrap();
        assert_eq!((range.low().get(), range.high().get()), (9e3, 3e9));
        assert!(range.contains(Hertz::new(9e3)) && !range.contains(Hertz::new(8.9e3)));
        let range: Range<Dbm> = "-30 .. \u{2212}10 dBm".parse().unwrap();
        assert_eq!((range.low().get(), range.high().get()), (-30.0, -10.0));
    }

    #[test]
    fn a_shared_unit_is_printed_once() {
        for text in ["4..5.5 W", "500 mW..1.5 W", "9 kHz..3 GHz"] {
            assert_eq!(
                text.parse::<Range<Power>>()
                    .map(|r| r.to_string())
                    .or_else(|_| { text.parse::<Range<Hertz>>().map(|r| r.to_string()) }),
                Ok(text.to_owned())
            );
        }
    }

    #[test]
    fn slips_are_told_apart() {
        assert!(matches!("5 W".parse::<Range<Power>>(), Err(RangeError::NotARange { .. })));
        assert!(matches!("6..4 W".parse::<Range<Power>>(), Err(RangeError::Reversed(_))));
        assert!(matches!("4..6".parse::<Range<Power>>(), Err(RangeError::NoUnit { .. })));
        assert!(matches!("4..6 V".parse::<Range<Power>>(), Err(RangeError::End(_))));
    }
}
