//! Units that are nearly right: which one was probably meant, or what the one that stands there is for.

use crate::electrical::{CURRENT, RESISTANCE, VOLTAGE};
use crate::error::QuantityError;
use crate::frequency::FREQUENCY;
use crate::geometry::{ANGLE, LENGTH};
use crate::level::{LEVEL, RATIO};
use crate::notation::{Notation, plain};
use crate::power::POWER;
use crate::share::SHARE;
use crate::temperature::TEMPERATURE;
use crate::time::TIME;

const ALL: [&Notation; 12] = [
    &FREQUENCY,
    &TIME,
    &VOLTAGE,
    &CURRENT,
    &RESISTANCE,
    &POWER,
    &RATIO,
    &LEVEL,
    &SHARE,
    &ANGLE,
    &LENGTH,
    &TEMPERATURE,
];

/// Units written out, with what they are in short; a prefix word before one makes a prefix before the other.
const WORDS: [(&str, &str); 25] = [
    ("hertz", "Hz"),
    ("second", "s"),
    ("sec", "s"),
    ("msec", "ms"),
    ("usec", "us"),
    ("min", "min"),
    ("minute", "min"),
    ("hour", "h"),
    ("hr", "h"),
    ("volt", "V"),
    ("amp", "A"),
    ("ampere", "A"),
    ("ohm", "ohm"),
    ("watt", "W"),
    ("decibel", "dB"),
    ("percent", "%"),
    ("degree", "deg"),
    ("metre", "m"),
    ("meter", "m"),
    ("c", "°C"),
    ("\u{2103}", "°C"),
    ("deg c", "°C"),
    ("degrees c", "°C"),
    ("celsius", "°C"),
    ("degrees celsius", "°C"),
];
const PREFIXES: [(&str, &str); 8] = [
    ("pico", "p"),
    ("nano", "n"),
    ("micro", "u"),
    ("milli", "m"),
    ("centi", "c"),
    ("kilo", "k"),
    ("mega", "M"),
    ("giga", "G"),
];

/// Why `unit` is none of the units that are `due`; the first of them gives its name and its example.
pub(crate) fn wrong_unit(due: &[&Notation], unit: &str) -> QuantityError {
    QuantityError::WrongUnit {
        expected: due[0].what,
        unit: unit.to_owned(),
        advice: did_you_mean(due, unit).or_else(|| is_something_else(due[0], unit)).unwrap_or_else(|| {
            format!("units understood here: {}", names(due).collect::<Vec<_>>().join(", "))
        }),
    }
}

fn names<'n>(due: &'n [&Notation]) -> impl Iterator<Item = &'static str> + 'n {
    due.iter().flat_map(|notation| notation.units.iter().map(|(name, _)| *name))
}

fn did_you_mean(due: &[&Notation], unit: &str) -> Option<String> {
    let plain = plain(unit);
    // `mHz` and `MHz` differ only in case, as do `mW` and `MW`: where a small prefix exists it has matched.
    if let Some(meant) = names(due).find(|name| name.eq_ignore_ascii_case(&plain)) {
        return Some(format!("did you mean `{meant}`? Case matters in a unit"));
    }
    let short = abbreviated(unit)?;
    let meant = names(due).find(|name| **name == short)?;
    Some(format!("did you mean `{meant}`?"))
}

fn is_something_else(due: &Notation, unit: &str) -> Option<String> {
    let own = due.units[0].0;
    let (unit, kind) = if unit == "dBc" {
        if own == "dB" {
            return Some(format!(
                "`dBc` is a ratio to the carrier; write the ratio in `dB`, for example `{}`",
                due.example
            ));
        }
        ("dBc", "a ratio to the carrier")
    } else {
        foreign(unit)?
    };
    Some(format!("`{unit}` is {kind}, `{own}` {}; write for example `{}`", kind_of(due), due.example))
}

/// The unit of any quantity that `unit` stands for, and what that quantity is called.
fn foreign(unit: &str) -> Option<(&'static str, &'static str)> {
    let short = abbreviated(unit).unwrap_or_else(|| plain(unit));
    // One letter in the wrong case says too little: `M` is rather a lost `MHz` than a metre.
    let alike = |name: &str| name == short || (short.len() > 1 && name.eq_ignore_ascii_case(&short));
    let unit_in =
        |notation: &&Notation| notation.units.iter().find(|(name, _)| alike(name)).map(|(name, _)| *name);
    ALL.iter().find_map(|notation| unit_in(notation).map(|name| (name, kind_of(notation))))
}

fn abbreviated(unit: &str) -> Option<String> {
    let word = unit.to_lowercase();
    let stem = |word: &str| {
        let singular = word.strip_suffix('s').unwrap_or(word);
        WORDS.iter().find(|(long, _)| *long == word || *long == singular).map(|(_, short)| *short)
    };
    if let Some(short) = stem(&word) {
        return Some(short.to_owned());
    }
    PREFIXES.iter().find_map(|(long, short)| Some(format!("{short}{}", stem(word.strip_prefix(long)?)?)))
}

/// `a ratio in dB` is `a ratio`.
fn kind_of(notation: &Notation) -> &'static str {
    notation.what.split(" in ").next().unwrap_or(notation.what)
}
