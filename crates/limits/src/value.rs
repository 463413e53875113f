//! What a test compares: dates, powers, frequencies, words.

use std::cmp::Ordering;
use std::fmt;

use jiff::civil::Date;
use spurline_units::{Dbm, Hertz, Power, QuantityError, Watts};

/// What kind of value a fact has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A day, `YYYY-MM-DD`, or a whole year, `YYYY`.
    Date,
    /// A power in watts or dBm, above zero.
    Power,
    /// A frequency or a bandwidth.
    Frequency,
    /// One of a closed set of words.
    Word,
}

impl Kind {
    /// The kinds by the word that names them in a rule file.
    pub(crate) const WORDS: &'static [(&'static str, Self)] =
        &[("date", Self::Date), ("power", Self::Power), ("frequency", Self::Frequency), ("word", Self::Word)];
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Date => "date",
            Self::Power => "power",
            Self::Frequency => "frequency",
            Self::Word => "word",
        })
    }
}

/// A value of one of the kinds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    /// From the first to the last day it may be; both are the same unless only a year is known.
    Date {
        first: Date,
        last: Date,
    },
    Power(Watts),
    Frequency(Hertz),
    /// Of the authorised bandwidth, in per cent.
    Share(f64),
    /// Of the carrier's frequency.
    Multiple(f64),
    Word(String),
}

impl Value {
    pub(crate) const fn day(date: Date) -> Self {
        Self::Date { first: date, last: date }
    }

    /// How this stands to a boundary; `None` where it cannot be told or the kinds differ.
    ///
    /// A whole year has no single answer, so it is asked at both of its ends by the caller.
    pub(crate) fn order(&self, bound: &Self) -> Option<Ordering> {
        match (self, bound) {
            (Self::Date { first, .. }, Self::Date { first: bound, .. }) => Some(first.cmp(bound)),
            (Self::Power(value), Self::Power(bound)) => order_rounded(value.get(), bound.get()),
            (Self::Frequency(value), Self::Frequency(bound)) => value.partial_cmp(bound),
            (Self::Share(value), Self::Share(bound)) | (Self::Multiple(value), Self::Multiple(bound)) => {
                order_rounded(*value, *bound)
            }
            (Self::Word(value), Self::Word(bound)) => (value == bound).then_some(Ordering::Equal),
            _ => None,
        }
    }

    /// The two ends: the same value twice unless only a year is known.
    pub(crate) fn ends(&self) -> [Self; 2] {
        match self {
            Self::Date { first, last } => [Self::day(*first), Self::day(*last)],
            other => [other.clone(), other.clone()],
        }
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date { first, last } if first == last => first.fmt(f),
            Self::Date { first, .. } => write!(f, "{:04}", first.year()),
            Self::Power(power) => f.write_str(&shown(*power)),
            Self::Frequency(frequency) => frequency.fmt(f),
            Self::Share(share) => write!(f, "{} %", rounded(*share)),
            Self::Multiple(multiple) => write!(f, "{} times the carrier", rounded(*multiple)),
            Self::Word(word) => write!(f, "`{word}`"),
        }
    }
}

/// A power for people: a measured one, through dBm and back, has no end of digits.
pub(crate) fn shown(power: Watts) -> String {
    const DIGITS: usize = 4;
    let whole = power.to_string();
    let behind_point =
        whole.split_once('.').map_or(0, |(_, rest)| rest.bytes().take_while(u8::is_ascii_digit).count());
    if behind_point > DIGITS { format!("{power:.DIGITS$}") } else { whole }
}

/// Figures a part in 10^9 apart are the same: a power that went through dBm and back, or a quotient, must not cross a
/// boundary.
fn order_rounded(value: f64, bound: f64) -> Option<Ordering> {
    const ROUNDING: f64 = 1e-9;
    if (value - bound).abs() <= ROUNDING * bound.abs() {
        return Some(Ordering::Equal);
    }
    value.partial_cmp(&bound)
}

/// A quotient for people.
fn rounded(value: f64) -> f64 {
    const DIGITS: f64 = 1e4;
    (value * DIGITS).round() / DIGITS
}

/// Reads `YYYY-MM-DD` or `YYYY` and nothing else.
pub(crate) fn parse_date(text: &str) -> Option<Value> {
    if let Some(day) = parse_day(text) {
        return Some(Value::day(day));
    }
    if text.len() != 4 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let year = text.parse().ok()?;
    Some(Value::Date { first: Date::new(year, 1, 1).ok()?, last: Date::new(year, 12, 31).ok()? })
}

/// Reads `YYYY-MM-DD`; the date library alone would also take forms that nobody expects here.
pub(crate) fn parse_day(text: &str) -> Option<Date> {
    let shaped = text.len() == 10
        && text
            .bytes()
            .enumerate()
            .all(|(at, b)| if at == 4 || at == 7 { b == b'-' } else { b.is_ascii_digit() });
    if shaped { text.parse().ok() } else { None }
}

/// Reads a power that has a level: above zero and within what a transmitter or its spurs can be.
///
/// `Err(None)` means that it reads but lies outside.
pub(crate) fn parse_power(text: &str) -> Result<(Watts, Dbm), Option<QuantityError>> {
    const POSSIBLE: std::ops::RangeInclusive<f64> = -300.0..=150.0;
    let power = text.parse::<Power>().map_err(|error| match error {
        QuantityError::OutOfRange { .. } => None,
        other => Some(other),
    })?;
    let level = power.dbm();
    if POSSIBLE.contains(&level.get()) { Ok((power.watts(), level)) } else { Err(None) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_dates_and_years_read() {
        assert_eq!(parse_date("2003-01-01").unwrap().to_string(), "2003-01-01");
        assert_eq!(parse_date("2010").unwrap().to_string(), "2010");
        for text in ["", "20", "20030101", "2003-1-1", "2003-02-30", "2003-01-01T00:00", "-003", "+2003-01-1"]
        {
            assert_eq!(parse_date(text), None, "{text}");
        }
    }

    /// 43.979400086720375 dBm is 10 log10(25 W / 1 mW) by numpy 2.4.6: the way there and back may not lose it.
    #[test]
    fn a_power_through_dbm_is_still_on_its_boundary() {
        let (watts, _) = parse_power("43.979400086720375 dBm").unwrap();
        assert_eq!(order_rounded(watts.get(), 25.0), Some(Ordering::Equal));
        assert_eq!(order_rounded(4.999, 5.0), Some(Ordering::Less));
        assert_eq!(order_rounded(25.000_001, 25.0), Some(Ordering::Greater));
    }

    #[test]
    fn a_power_without_a_level_is_refused() {
        for text in ["0 W", "-4000 dBm", "1e300 dBm", "1e300 kW"] {
            assert!(matches!(parse_power(text), Err(None)), "{text}");
        }
        assert!(matches!(parse_power("5"), Err(Some(QuantityError::NoUnit { .. }))));
    }

    proptest::proptest! {
        #[test]
        fn reading_never_panics(text in "[-0-9a-zA-Z. +]{0,14}") {
            drop(parse_date(&text));
            drop(parse_power(&text));
            drop(parse_power(&format!("{text} dBm")));
        }
    }
}
