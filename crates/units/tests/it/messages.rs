//! The usual slips, and the advice that each of them gets.

use std::fmt::Display;
use std::str::FromStr;

use spurline_units::{
    Amperes, Angle, Celsius, Db, Dbm, Hertz, Length, Ohms, Power, Range, Ratio, Seconds, Volts, Vswr, Watts,
};

fn message<T: FromStr<Err: Display>>(text: &str) -> String {
    match text.parse::<T>() {
        Ok(_) => format!("`{text}` reads"),
        Err(error) => error.to_string(),
    }
}

/// Both lines of the message for every text.
fn says<T: FromStr<Err: Display>>(slips: &[(&str, &str, &str)]) {
    for (text, found, advice) in slips {
        assert_eq!(message::<T>(text), format!("{found}\n{advice}"), "{text}");
    }
}

/// The second line of the message for every text.
fn advises<T: FromStr<Err: Display>>(slips: &[(&str, &str)]) {
    for (text, advice) in slips {
        let message = message::<T>(text);
        assert_eq!(message.split_once('\n').map(|lines| lines.1), Some(*advice), "{text}: {message}");
    }
}

#[test]
fn a_missing_unit() {
    says::<Hertz>(&[(
        "145.5",
        "expected a frequency with its unit, found the bare number `145.5`",
        "write the unit, for example `145.5 MHz`",
    )]);
    says::<Dbm>(&[(
        "-16",
        "expected a level in dBm with its unit, found the bare number `-16`",
        "write the unit, for example `-16 dBm`",
    )]);
    advises::<Angle>(&[("40", "write the unit, for example `40 deg`")]);
    advises::<Length>(&[("1.2", "write the unit, for example `1.2 m`")]);
    advises::<Celsius>(&[("25", "write the unit, for example `25 °C`")]);
    advises::<Ohms>(&[("50", "write the unit, for example `50 ohm`")]);
}

#[test]
fn no_number() {
    says::<Seconds>(&[(
        "soon",
        "expected a time, found `soon`",
        "write a number and a unit, for example `20 s`",
    )]);
    advises::<Volts>(&[
        ("", "write a number and a unit, for example `7.4 V`"),
        ("inf V", "write a number and a unit, for example `7.4 V`"),
        ("5 10 V", "write a number and a unit, for example `7.4 V`"),
        ("5..6 V", "write a number and a unit, for example `7.4 V`"),
    ]);
}

#[test]
fn wrong_case() {
    says::<Hertz>(&[
        ("145 Mhz", "`Mhz` is not a unit of a frequency", "did you mean `MHz`? Case matters in a unit"),
        ("145 mHz", "`mHz` is not a unit of a frequency", "did you mean `MHz`? Case matters in a unit"),
    ]);
    advises::<Db>(&[("30 db", "did you mean `dB`? Case matters in a unit")]);
    advises::<Dbm>(&[("-16 DBM", "did you mean `dBm`? Case matters in a unit")]);
    advises::<Power>(&[
        ("5 w", "did you mean `W`? Case matters in a unit"),
        ("37 dbm", "did you mean `dBm`? Case matters in a unit"),
    ]);
    advises::<Ohms>(&[("50 Ohm", "did you mean `ohm`? Case matters in a unit")]);
    advises::<Celsius>(&[("25 degc", "did you mean `degC`? Case matters in a unit")]);
}

#[test]
fn decimals_behind_a_comma() {
    const RULE: &str = "write a point before the decimals and nothing between the thousands";
    says::<Hertz>(&[(
        "145,5 MHz",
        "expected a frequency, found `145,5 MHz`",
        &format!("{RULE}: `145.5 MHz`"),
    )]);
    advises::<Power>(&[
        ("37,5 dBm", &format!("{RULE}: `37.5 dBm`")),
        ("0,125 W", &format!("{RULE}: `0.125 W`")),
        ("0,125", &format!("{RULE}, for example `5 W`")),
    ]);
}

#[test]
fn thousands_apart() {
    const RULE: &str = "write a point before the decimals and nothing between the thousands";
    let plain = format!("{RULE}: `1000 kHz`");
    advises::<Hertz>(&[
        ("1'000 kHz", &plain),
        ("1\u{2019}000 kHz", &plain),
        ("1 000 kHz", &plain),
        ("1\u{202f}000 kHz", &plain),
        ("1_000 kHz", &plain),
        ("1,000,000 Hz", &format!("{RULE}: `1000000 Hz`")),
        ("1.000,5 kHz", &format!("{RULE}: `1000.5 kHz`")),
        // A comma may mean either, so neither is guessed.
        ("1,000 kHz", &format!("{RULE}: `1.000 kHz` or `1000 kHz`")),
    ]);
}

/// A typeset minus means nothing else, so it is read; a dash means `to` as often, so it is not.
#[test]
fn signs_and_blanks_of_typeset_text() {
    assert_eq!("\u{2212}16 dBm".parse(), Ok(Dbm::new(-16.0)));
    assert_eq!("\u{2212}1e\u{2212}1\u{a0}V".parse(), Ok(Volts::new(-0.1)));
    assert_eq!("\u{a0}145.5\u{202f}MHz\u{2009}".parse(), Ok(Hertz::from_mhz(145.5)));
    says::<Dbm>(&[(
        "\u{2013}16 dBm",
        "expected a level in dBm, found `\u{2013}16 dBm`",
        "write a hyphen for the minus: `-16 dBm`",
    )]);
}

#[test]
fn a_unit_of_something_else() {
    says::<Dbm>(&[
        (
            "5 dB",
            "`dB` is not a unit of a level in dBm",
            "`dB` is a ratio, `dBm` a level; write for example `-16 dBm`",
        ),
        (
            "5 W",
            "`W` is not a unit of a level in dBm",
            "`W` is a power, `dBm` a level; write for example `-16 dBm`",
        ),
    ]);
    says::<Db>(&[(
        "30 dBm",
        "`dBm` is not a unit of a ratio in dB",
        "`dBm` is a level, `dB` a ratio; write for example `30 dB`",
    )]);
    advises::<Db>(&[("30 DBM", "`dBm` is a level, `dB` a ratio; write for example `30 dB`")]);
    advises::<Watts>(&[("30 dBm", "`dBm` is a level, `W` a power; write for example `5 W`")]);
    advises::<Power>(&[("30 dB", "`dB` is a ratio, `W` a power; write for example `5 W`")]);
    advises::<Hertz>(&[
        ("5 W", "`W` is a power, `Hz` a frequency; write for example `145.5 MHz`"),
        ("5 watts", "`W` is a power, `Hz` a frequency; write for example `145.5 MHz`"),
    ]);
    advises::<Amperes>(&[("5 V", "`V` is a voltage, `A` a current; write for example `2.5 A`")]);
    advises::<Angle>(&[("25 °C", "`°C` is a temperature, `deg` an angle; write for example `40 deg`")]);
    advises::<Length>(&[("5 MHz", "`MHz` is a frequency, `m` a length; write for example `1.2 m`")]);
}

#[test]
fn a_ratio_to_the_carrier() {
    says::<Db>(&[(
        "-43 dBc",
        "`dBc` is not a unit of a ratio in dB",
        "`dBc` is a ratio to the carrier; write the ratio in `dB`, for example `30 dB`",
    )]);
    advises::<Dbm>(&[(
        "-43 dBc",
        "`dBc` is a ratio to the carrier, `dBm` a level; write for example `-16 dBm`",
    )]);
}

#[test]
fn units_written_out() {
    says::<Power>(&[("5 watts", "`watts` is not a unit of a power", "did you mean `W`?")]);
    says::<Seconds>(&[("20 seconds", "`seconds` is not a unit of a time", "did you mean `s`?")]);
    says::<Hertz>(&[("145 megahertz", "`megahertz` is not a unit of a frequency", "did you mean `MHz`?")]);
    advises::<Power>(&[("50 milliwatts", "did you mean `mW`?"), ("0.25 MicroWatt", "did you mean `uW`?")]);
    advises::<Seconds>(&[
        ("20 sec", "did you mean `s`?"),
        ("5 mins", "did you mean `min`?"),
        ("20 milliseconds", "did you mean `ms`?"),
    ]);
    advises::<Db>(&[("3 decibels", "did you mean `dB`?")]);
    advises::<Volts>(&[("7.4 volts", "did you mean `V`?")]);
    advises::<Amperes>(&[("3 amps", "did you mean `A`?")]);
    advises::<Ohms>(&[("50 ohms", "did you mean `ohm`?")]);
    advises::<Ratio>(&[("99 percent", "did you mean `%`?")]);
    advises::<Angle>(&[("40 degrees", "did you mean `deg`?")]);
    advises::<Length>(&[("2 metres", "did you mean `m`?"), ("2 centimeters", "did you mean `cm`?")]);
    advises::<Celsius>(&[("25 C", "did you mean `°C`?"), ("25 degrees Celsius", "did you mean `°C`?")]);
}

#[test]
fn a_unit_that_nobody_knows() {
    says::<Hertz>(&[(
        "5 bananas",
        "`bananas` is not a unit of a frequency",
        "units understood here: Hz, kHz, MHz, GHz",
    )]);
    advises::<Power>(&[("5 hp", "units understood here: W, mW, uW, nW, pW, fW, kW, dBm")]);
    // Not a metre: one letter in the wrong case says too little.
    advises::<Hertz>(&[("145 M", "units understood here: Hz, kHz, MHz, GHz")]);
}

#[test]
fn out_of_range() {
    says::<Hertz>(&[
        ("-1 Hz", "expected a frequency, found `-1 Hz`", "it cannot be less than zero"),
        ("1e999 Hz", "expected a frequency, found `1e999 Hz`", "the number must be finite"),
        (
            "1 000 000 GHz",
            "expected a frequency, found `1 000 000 GHz`",
            "write a point before the decimals and nothing between the thousands, for example `145.5 MHz`",
        ),
        ("1000000 GHz", "expected a frequency, found `1000000 GHz`", "a frequency is at most 10000 GHz"),
    ]);
    advises::<Db>(&[("-301 dB", "a ratio is at most 300 dB, up or down")]);
    advises::<Dbm>(&[("301 dBm", "a level is from -300 dBm to 300 dBm")]);
    advises::<Angle>(&[("400 deg", "an angle is from -360 deg to 360 deg")]);
    advises::<Power>(&[("0 W", "it must be above zero"), ("301 dBm", "a level is from -300 dBm to 300 dBm")]);
}

#[test]
fn ranges_written_otherwise() {
    says::<Range<Power>>(&[
        ("4-6 W", "expected a range, found `4-6 W`", "write `4..6 W`"),
        (
            "5 W",
            "expected a range, found `5 W`",
            "write the lowest and the highest value, for example `4..6 W`",
        ),
        (
            "4..6",
            "expected a range with its unit, found `4..6`",
            "write the unit behind the highest value, for example `4..6 W`",
        ),
        ("6..4 W", "the range `6..4 W` ends below its start", "write the lower value first"),
        ("4..6 V", "`V` is not a unit of a power", "`V` is a voltage, `W` a power; write for example `5 W`"),
    ]);
    for text in [
        "4 to 6 W",
        "4\u{2026}6 W",
        "4\u{2013}6 W",
        "4 \u{2014} 6 W",
        "4\u{2212}6 W",
        "4~6 W",
        "4...6 W",
        "4-6",
        "4 to 6",
    ] {
        advises::<Range<Power>>(&[(text, "write `4..6 W`")]);
    }
    advises::<Range<Power>>(&[
        ("4 mW..6", "write the unit behind the highest value, for example `4 mW..6 mW`"),
        ("a..6", "write a number and a unit, for example `5 W`"),
    ]);
    advises::<Range<Dbm>>(&[
        ("-30 - -10 dBm", "write `-30..-10 dBm`"),
        ("-30 to 5 dBm", "write `-30..5 dBm`"),
    ]);
    advises::<Range<Hertz>>(&[
        ("136-174 MHz", "write `136..174 MHz`"),
        ("1e-3-5 Hz", "write `1e-3..5 Hz`"),
        ("9 kHz..3", "write the unit behind the highest value, for example `9 kHz..3 MHz`"),
        ("9..3", "write the lower value first"),
        // Never a range up to `.6 Hz`.
        ("0...6 Hz", "write `0..6 Hz`"),
    ]);
}

#[test]
fn a_standing_wave_ratio_with_its_one() {
    says::<Vswr>(&[(
        "1.2:1",
        "expected a VSWR from 1 to 1000, found 1.2:1",
        "write the ratio as one plain number: `1.2`",
    )]);
    for text in ["1.2 : 1", "1:1.2", "1,2", "1,2:1"] {
        advises::<Vswr>(&[(text, "write the ratio as one plain number: `1.2`")]);
    }
    for text in ["0.9", "-2", "inf", "NaN", "2:3", "20 dB", ""] {
        advises::<Vswr>(&[(text, "write a plain number; 1 is a perfect match")]);
    }
}
