//! Parameter tests: each type of program data and what a handler may take it for.

use super::*;
use crate::program_units;

fn parameter(text: &str) -> Parameter {
    let message = format!("X {text}");
    let unit = program_units(message.as_bytes()).next().unwrap().unwrap();
    let [parameter] = unit.exactly().unwrap();
    parameter.clone()
}

/// Decimal data: IEEE 488.2 clause 7.7.2 (blanks around `E` allowed) and 7.7.3 (suffixes); words: SCPI-1999 volume 1,
/// clause 7.2.1; all from memory. Values are decimal arithmetic.
#[test]
fn numeric_data() {
    for (text, expected) in [
        ("1000", Ok(1000.0)),
        ("+.5", Ok(0.5)),
        ("5.", Ok(5.0)),
        ("-1.5e-3", Ok(-0.0015)),
        ("1 E 3", Ok(1000.0)),
        ("432.1234567 MHZ", Ok(432_123_456.7)),
        ("144.2MHZ", Ok(144_200_000.0)),
        ("1E3KHZ", Ok(1e6)),
        ("1 EXHZ", Ok(1e18)),
        ("#HfF", Ok(255.0)),
        ("#Q17", Ok(15.0)),
        ("#B101", Ok(5.0)),
        ("1 S", Err(-131)),
        ("1 E", Err(-131)),
        ("1E400", Err(-222)),
        ("ON", Err(-141)),
        ("'1'", Err(-104)),
        ("#11x", Err(-104)),
        ("(@1)", Err(-104)),
    ] {
        let expected = expected.map(Numeric::Value);
        assert_eq!(
            parameter(text).numeric(Quantity::Frequency).map_err(ErrorCode::number),
            expected,
            "{text}"
        );
    }
    for (text, expected) in [
        ("MIN", Numeric::Minimum),
        ("maximum", Numeric::Maximum),
        ("DEF", Numeric::Default),
        ("UP", Numeric::Up),
        ("DOWN", Numeric::Down),
    ] {
        assert_eq!(parameter(text).numeric(Quantity::Plain), Ok(expected), "{text}");
    }
    assert_eq!(parameter("5 DB").numeric(Quantity::Plain), Err(ErrorCode::SUFFIX_NOT_ALLOWED));
}

/// SCPI-1999 volume 1, clause 7.3: a number is rounded, and on unless it is zero.
#[test]
fn booleans() {
    for (text, expected) in [
        ("ON", Ok(true)),
        ("off", Ok(false)),
        ("1", Ok(true)),
        ("-2", Ok(true)),
        ("0.4", Ok(false)),
        ("0.6", Ok(true)),
        ("1 V", Err(-138)),
        ("YES", Err(-141)),
        ("'ON'", Err(-104)),
    ] {
        assert_eq!(parameter(text).boolean().map_err(ErrorCode::number), expected, "{text}");
    }
}

#[test]
fn choices() {
    let choices = [("ASCii", 1), ("REAL", 2)];
    for (text, expected) in
        [("ASC", Ok(1)), ("ascii", Ok(1)), ("REAL", Ok(2)), ("ASCI", Err(-224)), ("1", Err(-104))]
    {
        assert_eq!(parameter(text).choice(&choices).map_err(ErrorCode::number), expected, "{text}");
    }
}

/// Strings: IEEE 488.2 clause 7.7.5; blocks: 7.7.6; channel lists: SCPI-1999 volume 1, clause 8.3.2.
#[test]
fn strings_blocks_and_channels() {
    assert_eq!(parameter("'it''s \"x\";'").string(), Ok("it's \"x\";"));
    assert_eq!(parameter("\"\"").string(), Ok(""));
    assert_eq!(parameter("''''").string(), Ok("'"));
    assert_eq!(parameter("#13a;\n"), Parameter::Block(Bytes::from_static(b"a;\n")));
    assert_eq!(parameter("#0a;b"), Parameter::Block(Bytes::from_static(b"a;b")));
    assert_eq!(parameter("(@1,3:5, 12)").channels(), Ok(&[(1, 1), (3, 5), (12, 12)][..]));
    assert_eq!(parameter("(@)").channels(), Ok(&[][..]));
    assert_eq!(parameter("TRACE1").word(), Ok("TRACE1"));
    for text in ["1", "WORD"] {
        assert_eq!(parameter(text).channels(), Err(ErrorCode::DATA_TYPE_ERROR));
    }
}
