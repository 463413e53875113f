//! What holds for the text of every quantity.

use std::fmt::{Debug, Display};
use std::str::FromStr;

use proptest::prelude::*;
use spurline_units::{
    Amperes, Angle, Celsius, Db, Dbm, Hertz, Length, Ohms, Power, Ratio, Seconds, Volts, Vswr, Watts,
};

/// A whole number times a power of ten, in decimal notation without an exponent.
fn decimal(number: i64, ten: i32) -> String {
    let (sign, digits) = (if number < 0 { "-" } else { "" }, number.unsigned_abs().to_string());
    let behind = usize::try_from(-ten).unwrap_or(0);
    let zeros = "0".repeat(usize::try_from(ten).unwrap_or(0));
    let digits = format!("{digits:0>width$}{zeros}", width = behind + 1);
    let (whole, decimals) = digits.split_at(digits.len() - behind);
    if decimals.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{decimals}") }
}

#[test]
fn decimal_notation() {
    assert_eq!(decimal(-1455, -1), "-145.5");
    assert_eq!(decimal(15, -3), "0.015");
    assert_eq!(decimal(15, 2), "1500");
    assert_eq!(decimal(15, 0), "15");
}

/// Texts of all kinds, many of them close to a quantity.
fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        "\\PC{0,24}",
        "[-+\u{2212}\u{2013}0-9.,'\u{2019}_eE \u{a0}]{0,24}[a-zA-Z%\u{b0}\u{b5}\u{3bc}\u{3a9} ]{0,8}",
        "[-+]?[0-9]{0,20}[.,]?[0-9]{0,20}[eE][-+\u{2212}]?[0-9]{1,30} ?[a-zA-Z%]{1,4}",
    ]
}

/// Whatever stands there, it reads and prints, or the message has its advice.
fn is_read_or_refused<T: FromStr<Err: Display> + Display>(text: &str) {
    match text.parse::<T>() {
        Ok(value) => assert!(!value.to_string().is_empty()),
        Err(error) => assert!(error.to_string().contains('\n'), "{error}"),
    }
}

/// What is printed reads as the same value, but for the digits that are not printed.
fn reads_back<T: Copy + Display + FromStr<Err: Debug>>(value: T, get: fn(T) -> f64, digits: i32) {
    let printed = value.to_string();
    let unit = printed.rsplit_once(' ').unwrap().1;
    let one = get(format!("1 {unit}").parse().unwrap());
    let allowed = 0.5 * 10f64.powi(-digits) * one * (1.0 + 1e-9) + 4.0 * f64::EPSILON * get(value).abs();
    let back = get(printed.parse().unwrap());
    assert!((back - get(value)).abs() <= allowed, "{printed} for {} is {back}", get(value));
}

/// Its type, its value in the base unit, its units by their power of ten, the digits that it prints behind the
/// point, and the numbers that it can have.
macro_rules! texts {
    ($($name:ident: $type:ty, $get:expr, $units:expr, $digits:literal, $numbers:expr;)+) => {$(
        mod $name {
            use super::*;

            const UNITS: &[(&str, i32)] = &$units;

            fn unit() -> impl Strategy<Value = (&'static str, i32)> {
                prop::sample::select(UNITS)
            }

            /// Up to 100 of a unit, with 7 digits behind the point.
            fn number() -> impl Strategy<Value = i64> {
                $numbers
            }

            fn read(number: i64, ten: i32, unit: &str) -> $type {
                format!("{} {unit}", decimal(number, ten)).parse().unwrap()
            }

            proptest! {
                #[test]
                fn printing_then_reading_gives_the_same(number in number(), (unit, _) in unit()) {
                    reads_back(read(number, -7, unit), $get, $digits);
                }

                #[test]
                fn reading_never_panics(text in any_text()) {
                    is_read_or_refused::<$type>(&text);
                }

                #[test]
                fn huge_numbers_are_refused_or_nothing(
                    number in "[-+]?[0-9]{0,20}[.]?[0-9]{1,20}[eE][-+]?[0-9]{3,30}", (unit, _) in unit()
                ) {
                    is_read_or_refused::<$type>(&format!("{number} {unit}"));
                }

                #[test]
                fn blanks_around_do_not_matter(
                    text in any_text(), before in "[ \t\n\u{a0}\u{2009}]{0,3}", after in "[ \t\n\u{a0}\u{2009}]{0,3}"
                ) {
                    prop_assert_eq!(format!("{before}{text}{after}").parse::<$type>(), text.parse::<$type>());
                }

                #[test]
                fn a_blank_before_the_unit_does_not_matter(
                    number in number(), (unit, _) in unit(), blank in "[ \t\u{a0}\u{202f}]{0,3}"
                ) {
                    let text = format!("{}{blank}{unit}", decimal(number, -7));
                    prop_assert_eq!(text.parse::<$type>().unwrap(), read(number, -7, unit));
                }

                #[test]
                fn a_typeset_minus_is_a_minus(number in number(), (unit, _) in unit()) {
                    let text = format!("{} {unit}", decimal(number, -7)).replace('-', "\u{2212}");
                    prop_assert_eq!(text.parse::<$type>().unwrap(), read(number, -7, unit));
                }

                #[test]
                fn prefixes_scale_exactly(number in number(), (one, ten) in unit(), (other, other_ten) in unit()) {
                    let value = read(number, -7, one);
                    prop_assert_eq!(read(number, ten - other_ten - 7, other), value);
                    let exponent = ten - other_ten - 7;
                    prop_assert_eq!(format!("{number}e{exponent}{other}").parse::<$type>().unwrap(), value);
                }

                #[test]
                fn json_keeps_every_bit(number in number(), (unit, _) in unit()) {
                    let value = read(number, -7, unit);
                    let json = serde_json::to_string(&value).unwrap();
                    prop_assert_eq!(serde_json::from_str::<f64>(&json).unwrap(), $get(value));
                    prop_assert_eq!(serde_json::from_str::<$type>(&json).unwrap(), value);
                }

                #[test]
                fn texts_and_values_are_ordered_alike(
                    (a, (a_unit, a_ten)) in (number(), unit()), (b, (b_unit, b_ten)) in (number(), unit())
                ) {
                    // In units of 1e-22, in which both are whole numbers.
                    let exact = |number: i64, ten: i32| {
                        i128::from(number) * 10i128.pow(u32::try_from(ten + 15).unwrap())
                    };
                    let order = read(a, -7, a_unit).partial_cmp(&read(b, -7, b_unit));
                    prop_assert_eq!(order, Some(exact(a, a_ten).cmp(&exact(b, b_ten))));
                }
            }
        }
    )+};
}

const MOST: i64 = 1_000_000_000;

texts! {
    frequency: Hertz, Hertz::get, [("Hz", 0), ("kHz", 3), ("MHz", 6), ("GHz", 9)], 9, 0..MOST;
    time: Seconds, Seconds::get, [("s", 0), ("ms", -3), ("us", -6), ("\u{b5}s", -6)], 9, 0..MOST;
    voltage: Volts, Volts::get, [("V", 0), ("mV", -3), ("uV", -6)], 9, -MOST..MOST;
    current: Amperes, Amperes::get, [("A", 0), ("mA", -3)], 9, -MOST..MOST;
    resistance: Ohms, Ohms::get, [("ohm", 0), ("\u{3a9}", 0), ("\u{2126}", 0)], 9, 0..MOST;
    watts: Watts, Watts::get,
        [("W", 0), ("kW", 3), ("mW", -3), ("uW", -6), ("nW", -9), ("pW", -12), ("fW", -15)], 9, 0..MOST;
    power: Power, |power: Power| power.watts().get(),
        [("W", 0), ("kW", 3), ("mW", -3), ("uW", -6), ("nW", -9), ("pW", -12), ("fW", -15)], 9, 1..MOST;
    level: Dbm, Dbm::get, [("dBm", 0)], 2, -MOST..MOST;
    ratio: Db, Db::get, [("dB", 0)], 2, -MOST..MOST;
    share: Ratio, Ratio::get, [("%", -2), ("ppm", -6)], 9, -MOST..MOST;
    angle: Angle, Angle::radians, [("deg", 0), ("\u{b0}", 0)], 9, -MOST..MOST;
    length: Length, Length::get, [("m", 0), ("cm", -2), ("mm", -3)], 9, 0..MOST;
    temperature: Celsius, Celsius::get, [("\u{b0}C", 0), ("degC", 0)], 9, -MOST..MOST;
}

proptest! {
    #[test]
    fn a_level_reads_as_a_power(hundredths in -30_000i64..=30_000) {
        let text = format!("{} dBm", decimal(hundredths, -2));
        let (level, power): (Dbm, Power) = (text.parse().unwrap(), text.parse().unwrap());
        prop_assert_eq!(power.watts(), level.to_watts());
    }

    /// A standing wave ratio is never printed by itself, so there is no way back to test.
    #[test]
    fn reading_a_standing_wave_ratio_never_panics(text in any_text()) {
        match text.parse::<Vswr>() {
            Ok(vswr) => prop_assert!(vswr.get() >= 1.0 && (0.0..=1.0).contains(&vswr.reflection())),
            Err(error) => prop_assert!(error.to_string().contains('\n')),
        }
    }
}
