//! Reader tests: every spelling of an answer that instruments are known to use.

use bytes::Bytes;
use proptest::prelude::*;

use super::*;

fn unit(message: impl Into<Bytes>) -> Unit {
    let response = Response::parse(message.into()).unwrap();
    response.exactly::<1>().unwrap()[0].clone()
}

fn refused<T>(expected: Expected, found: &str) -> Result<T, ReadError> {
    Err(ReadError::Kind { expected, found: found.to_owned() })
}

/// Integers may come in any decimal form, IEEE 488.2 clause 8.7 (NR1 to NR3, #H, #Q, #B).
#[test]
fn integers() {
    for (text, value) in [
        ("4000", 4000),
        ("+4.0000E+03", 4000),
        ("4000.0", 4000),
        ("-1", -1),
        ("#HfF", 255),
        ("#Q17", 15),
        ("#B101", 5),
    ] {
        assert_eq!(unit(text).integer(), Ok(value), "{text}");
    }
    for text in ["4000.5", "9.91E37", "1E16", "#HXY", "#H", "one", "\"1\""] {
        assert_eq!(unit(text).integer(), refused(Expected::Integer, text), "{text}");
    }
}

#[test]
fn numbers_refuse_suffixes_and_decimal_commas() {
    assert_eq!(unit(" -1.05E+01").number(), Ok(Number::Finite(-10.5)));
    assert_eq!(unit("").number(), Ok(Number::NotANumber));
    assert_eq!(unit("-10.2 DBM").number(), refused(Expected::Number, "-10.2 DBM"));
    assert_eq!(unit(":FREQ:CENT 1E9").number(), refused(Expected::Number, ":FREQ:CENT 1E9"));
    assert_eq!(unit("-12,5").number(), Err(ReadError::Fields { expected: 1, found: 2 }));
}

#[test]
fn booleans_and_strings() {
    for (text, value) in
        [("1", true), ("0", false), ("+1", true), ("ON", true), ("off", false), ("0.0", false)]
    {
        assert_eq!(unit(text).boolean(), Ok(value), "{text}");
    }
    for text in ["2", "MAYBE", "-1"] {
        assert_eq!(unit(text).boolean(), refused(Expected::Boolean, text), "{text}");
    }
    assert_eq!(unit("\"a \"\"b\"\"\"").string(), Ok("a \"b\"".to_owned()));
    assert_eq!(unit("POS").string(), Ok("POS".to_owned()));
    assert_eq!(unit("#11x").string(), refused(Expected::String, "#11x"));
}

#[test]
fn lists_of_floats() {
    assert_eq!(unit("-1.5,+2E0, 3 ,").f32_list(), Ok(vec![-1.5, 2.0, 3.0]));
    let gaps = unit("1,,9.9E37,-9.9E37").f32_list().unwrap();
    assert!(gaps[1].is_nan());
    assert_eq!((gaps[0], gaps[2], gaps[3]), (1.0, f32::INFINITY, f32::NEG_INFINITY));
    let two_commas = unit("1,2,,").f32_list().unwrap();
    assert_eq!(two_commas.len(), 3);
    assert_eq!(unit("1,x").f32_list(), refused(Expected::Number, "x"));
}

/// Bytes of 1.0 and -2.5: IEEE 754 binary32, 0x3F800000 and 0xC0200000.
#[test]
fn blocks_of_floats() {
    let big = unit(&b"#18\x3f\x80\x00\x00\xc0\x20\x00\x00"[..]);
    assert_eq!(big.f32_block(ByteOrder::Big), Ok(vec![1.0, -2.5]));
    let little = unit(&b"#18\x00\x00\x80\x3f\x00\x00\x20\xc0"[..]);
    assert_eq!(little.f32_block(ByteOrder::Little), Ok(vec![1.0, -2.5]));
    assert_eq!(unit("#17abcdefg").f32_block(ByteOrder::Big), Err(ReadError::BlockLength { found: 7 }));
    assert_eq!(unit("1.0").f32_block(ByteOrder::Big), refused(Expected::Block, "1.0"));
    assert_eq!(unit("#10").f32_block(ByteOrder::Big), Ok(vec![]));
}

/// Form: SCPI-1999 volume 1, clause 21.8; the sign of zero and bare text are common practice.
#[test]
fn error_entries() {
    for (text, code, words) in [
        ("0,\"No error\"", 0, "No error"),
        ("+0,\"No error\"", 0, "No error"),
        ("-0,\"\"", 0, ""),
        ("-113,\"Undefined header;FREK\"", -113, "Undefined header;FREK"),
        ("-222 , \"Data out of range\"", -222, "Data out of range"),
        ("17,Door open, sort of", 17, "Door open,sort of"),
    ] {
        let expected = InstrumentError { code: ErrorCode::new(code), text: words.to_owned() };
        assert_eq!(unit(text).error_entry(), Ok(expected), "{text}");
    }
    for text in ["40000,\"x\"", "0", "\"x\",0", "1.5,\"x\""] {
        assert_eq!(unit(text).error_entry(), refused(Expected::ErrorEntry, text), "{text}");
    }
}

/// IEEE 488.2 clause 10.14: four fields, of which the last may hold several revisions.
#[test]
fn identities() {
    let identity = unit("Acme, A-1,0,1.2, boot 3").identity().unwrap();
    assert_eq!((identity.model.as_str(), identity.firmware.as_str()), ("A-1", "1.2,boot 3"));
    assert_eq!(unit("Acme,A-1,0").identity(), refused(Expected::Identity, "Acme,A-1,0"));
}

#[test]
fn the_number_of_answers_is_checked() {
    let response = Response::parse(Bytes::from_static(b"1;2")).unwrap();
    assert!(response.exactly::<2>().is_ok());
    assert_eq!(response.exactly::<3>(), Err(ReadError::Units { expected: 3, found: 2 }));
}

#[test]
fn refusals_read_well() {
    let error = unit("-10.2 DBM").number().unwrap_err();
    assert_eq!(error.to_string(), "expected a number, found \"-10.2 DBM\"");
}

proptest! {
    #[test]
    fn float_blocks_read_back(values in prop::collection::vec(-1e30_f32..1e30, 0..50)) {
        for order in [ByteOrder::Big, ByteOrder::Little] {
            let unit = Unit::from(Element::from_f32s(&values, order));
            prop_assert_eq!(unit.f32_block(order), Ok(values.clone()));
        }
    }

    #[test]
    fn readers_never_panic(message in prop::collection::vec(any::<u8>(), 0..40)) {
        if let Ok(response) = Response::parse(message.into()) {
            for unit in &response.units {
                prop_assert!(unit.integer().is_ok() || unit.boolean().is_err() || unit.elements[0].number().is_err());
                prop_assert!(unit.error_entry().is_err() || unit.elements.len() > 1);
                prop_assert!(unit.f32_list().is_ok() || unit.elements.iter().any(|e| e.number().is_err()));
            }
        }
    }
}
