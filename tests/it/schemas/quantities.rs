//! The patterns of quantities take what the readers of quantities take, and refuse what they refuse.
//!
//! Bounds are the reader's alone: a pattern does not compare numbers.

use std::str::FromStr;

use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::ValueTree;
use serde_json::Value as Json;
use spurline_units::{
    Amperes, Angle, Db, Dbm, Hertz, Length, Ohms, Power, QuantityError, Range, RangeError, Ratio, Seconds,
    Volts, Watts,
};

use super::sample::Kind;
use super::schema::Schema;

/// How the reader answers a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Answer {
    Taken,
    OutOfBounds,
    Refused,
}
use Answer::{OutOfBounds, Refused, Taken};

type Read = fn(&str) -> Answer;

fn single<T: FromStr<Err = QuantityError>>(text: &str) -> Answer {
    match text.parse::<T>() {
        Ok(_) => Taken,
        Err(QuantityError::OutOfRange { .. }) => OutOfBounds,
        Err(_) => Refused,
    }
}

fn range<T: FromStr<Err = QuantityError> + Copy + PartialOrd>(text: &str) -> Answer {
    match text.parse::<Range<T>>() {
        Ok(_) => Taken,
        Err(RangeError::Reversed(_) | RangeError::End(QuantityError::OutOfRange { .. })) => OutOfBounds,
        Err(_) => Refused,
    }
}

/// As the reader of parts has it.
fn range_of_part(text: &str) -> Answer {
    range::<Hertz>(&text.strip_prefix("DC").map_or(text.to_owned(), |rest| format!("0 Hz{rest}")))
}

/// What cannot be below zero: `-0 Hz` is read, but nobody means it.
fn not_below_zero(text: &str, read: Read) -> Answer {
    let minus = |text: &str| text.trim_start().starts_with(['-', '\u{2212}']);
    let below = text.split("..").any(minus);
    match read(text) {
        Taken if below => OutOfBounds,
        other => other,
    }
}

const SINGLE: [(Kind, &str, Read); 16] = [
    (Kind::Plan, "frequency", |t| not_below_zero(t, single::<Hertz>)),
    (Kind::Plan, "time", |t| not_below_zero(t, single::<Seconds>)),
    (Kind::Plan, "power", single::<Power>),
    (Kind::Bench, "watts", |t| not_below_zero(t, single::<Watts>)),
    (Kind::Bench, "level", single::<Dbm>),
    (Kind::Bench, "ratio", single::<Db>),
    (Kind::Bench, "loss", |t| not_below_zero(t, single::<Db>)),
    (Kind::Bench, "voltage", single::<Volts>),
    (Kind::Bench, "positive_voltage", |t| not_below_zero(t, single::<Volts>)),
    (Kind::Plan, "current", single::<Amperes>),
    (Kind::Bench, "positive_current", |t| not_below_zero(t, single::<Amperes>)),
    (Kind::Bench, "resistance", |t| not_below_zero(t, single::<Ohms>)),
    (Kind::Bench, "share", |t| not_below_zero(t, single::<Ratio>)),
    (Kind::Bench, "length", |t| not_below_zero(t, single::<Length>)),
    (Kind::Bench, "angle", single::<Angle>),
    (Kind::Rule, "power", single::<Power>),
];

const RANGES: [(Kind, &str, Read); 5] = [
    (Kind::Bench, "frequency_range", |t| not_below_zero(t, range::<Hertz>)),
    (Kind::Bench, "valid_range", |t| not_below_zero(t, range_of_part)),
    (Kind::Plan, "power_range", range::<Power>),
    (Kind::Profile, "level_range", range::<Dbm>),
    (Kind::Profile, "ratio_range", range::<Db>),
];

const UNITS: [&str; 51] = [
    "", "Hz", "kHz", "MHz", "GHz", "mHz", "Mhz", "s", "ms", "us", "\u{b5}s", "\u{3bc}s", "min", "h", "sec",
    "W", "mW", "uW", "\u{b5}W", "nW", "pW", "fW", "kW", "MW", "dBm", "dB", "dBc", "db", "V", "mV", "uV", "A",
    "mA", "uA", "m", "cm", "mm", "deg", "\u{b0}", "%", "THz", "ns", "kV", "nA", "km", "um", "rad", "dBW",
    "ohm", "\u{3a9}", "\u{2126}",
];
/// Both ends of a range must fit by chance, so fewer units are drawn from.
const UNITS_OF_RANGES: [&str; 12] =
    ["", "Hz", "kHz", "MHz", "mHz", "W", "mW", "\u{b5}W", "MW", "dBm", "dB", "V"];
const BLANKS: [&str; 6] = ["", " ", "  ", "\u{a0}", "\u{202f}", "\t"];
const NUMBER: &str = "[-+\u{2212}]?([0-9]{1,3}\\.?[0-9]{0,2}|\\.[0-9]{0,2})([eE][-+\u{2212}]?[0-9]?)?";
/// In a range the schemas want a digit on both sides of a point, so that three dots are never read as two.
const NUMBER_IN_RANGE: &str = "[-+\u{2212}]?[0-9]{1,3}(\\.[0-9]{1,2})?([eE][-+\u{2212}]?[0-9])?";

fn quantity(number: &'static str, units: &'static [&str]) -> impl Strategy<Value = String> {
    (number, select(&BLANKS), select(units)).prop_map(|(number, blank, unit)| [&number, blank, unit].concat())
}

fn quantities() -> impl Strategy<Value = String> {
    prop_oneof![9 => quantity(NUMBER, &UNITS), 1 => "[-+.,0-9a-zA-Z ]{0,8}"]
}

fn ranges() -> impl Strategy<Value = String> {
    let end = || quantity(NUMBER_IN_RANGE, &UNITS_OF_RANGES);
    let low = prop_oneof![4 => end(), 4 => NUMBER_IN_RANGE, 1 => Just("DC".to_owned())];
    let marks = prop_oneof![4 => Just(".."), 1 => select(&[" .. ", "...", "-", " to "][..])];
    (low, marks, end()).prop_map(|(low, mark, high)| low + mark + &high)
}

#[track_caller]
fn agree(schema: &Schema, name: &str, read: Read, text: &str) {
    let matches = schema.accepts(schema.definition(name), &Json::from(text));
    let answer = read(text);
    assert!(
        answer == OutOfBounds || matches == (answer == Taken),
        "`{text}` as {name}: the reader says {answer:?}, the pattern {matches}"
    );
}

/// Asks both about the same texts on every run, and that enough of them were good ones.
fn all_agree(table: &[(Kind, &str, Read)], texts: impl Strategy<Value = String>) {
    let table: Vec<_> = table.iter().map(|(kind, name, read)| (kind.schema(), *name, *read)).collect();
    let mut taken = vec![0; table.len()];
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    for _ in 0..6_000 {
        let text = texts.new_tree(&mut runner).unwrap().current();
        for ((schema, name, read), taken) in table.iter().zip(&mut taken) {
            agree(schema, name, *read, &text);
            *taken += usize::from(read(&text) == Taken);
        }
    }
    for ((_, name, _), taken) in table.iter().zip(taken) {
        assert!(taken > 20, "only {taken} texts were a {name}");
    }
}

#[test]
fn a_quantity_is_the_same_to_both() {
    all_agree(&SINGLE, quantities());
}

#[test]
fn a_range_is_the_same_to_both() {
    all_agree(&RANGES, ranges());
}

/// Texts that chance would seldom make.
#[test]
fn slips_of_the_pen_are_the_same_to_both() {
    let of = |table: &[(Kind, &str, Read)], wanted: &str| {
        let found = table.iter().find(|(_, name, _)| *name == wanted);
        let (kind, name, read) = found.unwrap();
        (kind.schema(), (*name).to_owned(), *read)
    };
    for (name, text, answer) in [
        ("frequency", "145.5 MHz", Taken),
        ("frequency", "145,5 MHz", Refused),
        ("frequency", "1'000 kHz", Refused),
        ("frequency", "145.5 megahertz", Refused),
        ("frequency", "145.5 MHz 2", Refused),
        ("frequency", "inf Hz", Refused),
        ("time", "1 500 ms", Refused),
        ("level", "\u{2212}16 dBm", Taken),
        ("level", "\u{2013}16 dBm", Refused),
        ("level", "-16dBm", Taken),
        ("power", "5 Watt", Refused),
        ("angle", "40 rad", Refused),
    ] {
        let (schema, name, read) = of(&SINGLE, name);
        assert_eq!(read(text), answer, "{text}");
        agree(&schema, &name, read, text);
    }
    for (name, text, answer) in [
        ("power_range", "4..6 W", Taken),
        ("power_range", "500 mW..1.5 W", Taken),
        ("power_range", "36..37.5 dBm", Taken),
        ("power_range", "30 dBm..5 W", Taken),
        ("power_range", "4...6 W", Refused),
        ("power_range", "4\u{2026}6 W", Refused),
        ("power_range", "4..6", Refused),
        ("power_range", "4 W", Refused),
        ("valid_range", "DC..3 GHz", Taken),
        ("valid_range", "DC", Refused),
        ("frequency_range", "DC..3 GHz", Refused),
        ("level_range", "-30 .. \u{2212}10 dBm", Taken),
    ] {
        let (schema, name, read) = of(&RANGES, name);
        assert_eq!(read(text), answer, "{text}");
        agree(&schema, &name, read, text);
    }
}
