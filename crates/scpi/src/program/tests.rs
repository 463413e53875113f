//! Program message tests: the header path, the separators and the error numbers.

use proptest::prelude::*;

use super::*;
use crate::{Message, ProgramDecoder, Quantity};

/// Headers from the root, `?` for queries, then the number of parameters; the error number at the end if there is one.
fn shape(message: &str) -> Vec<String> {
    program_units(message.as_bytes())
        .map(|unit| match unit {
            Ok(unit) => {
                let mark = if unit.query { "?" } else { "" };
                format!("{}{mark} {}", unit.path.join(":"), unit.parameters.len())
            }
            Err(error) => error.code.to_string(),
        })
        .collect()
}

/// Header path: SCPI-1999 volume 1, clause 6.2.4; common commands: IEEE 488.2 appendix A.1.1, both from memory.
#[test]
fn header_paths() {
    for (message, expected) in [
        ("FREQ:CENT 1E9;SPAN 1E6", &["FREQ:CENT 1", "FREQ:SPAN 1"][..]),
        ("FREQ:CENT 1E9;:SPAN 1E6", &["FREQ:CENT 1", "SPAN 1"]),
        ("BAND 1E3;VID 3E3", &["BAND 1", "VID 1"]),
        (
            "SYST:VERSION?;*ESR?;ERR:NEXT?;COUN?",
            &["SYST:VERSION? 0", "*ESR? 0", "SYST:ERR:NEXT? 0", "SYST:ERR:COUN? 0"],
        ),
        ("SYST:VERS?;ERR?;VERS?", &["SYST:VERS? 0", "SYST:ERR? 0", "SYST:VERS? 0"]),
        (":A:B;:C:D 1 , 2", &["A:B 0", "C:D 2"]),
        ("*CLS;A:B;C", &["*CLS 0", "A:B 0", "A:C 0"]),
        (" A ;\t*WAI ", &["A 0", "*WAI 0"]),
        ("", &[]),
        ("  \r", &[]),
        ("DISP:TEXT 'a;b';X", &["DISP:TEXT 1", "DISP:X 0"]),
    ] {
        assert_eq!(shape(message), expected, "{message}");
    }
}

/// Numbers: SCPI-1999 volume 1, clause 21.8.9, whose examples are `SETUP&` (-101), `*GMC"MACRO"` (-111) and a left out
/// semicolon (-103).
#[test]
fn syntax_errors() {
    for (message, code) in [
        ("SETUP&", "-101"),
        ("&A", "-101"),
        ("A $", "-101"),
        ("A #Z1", "-101"),
        (";", "-102"),
        ("A:", "-102"),
        ("A:?", "-102"),
        ("A??", "-102"),
        ("1A", "-102"),
        ("A 1,", "-102"),
        ("A ,1", "-102"),
        ("A 1,,2", "-102"),
        ("*EMC 1:CH1:VOLTS 5", "-103"),
        ("A 1 2", "-103"),
        ("A MAX DBM", "-103"),
        ("A 'x'1", "-103"),
        ("*GMC\"MACRO\"", "-111"),
        ("A,1", "-111"),
        ("ABCDEFGHIJKLM", "-112"),
        ("A +", "-120"),
        ("A #HG", "-120"),
        ("A 1.2.3", "-121"),
        ("A 1E32001", "-123"),
        ("A 1 ABCDEFGHIJKLM", "-134"),
        ("A ABCDEFGHIJKLM", "-144"),
        ("A 'x", "-151"),
        ("A \"x\"\"", "-151"),
        ("A #15abcd", "-161"),
        ("A #1x", "-161"),
        ("A (1+2)", "-171"),
        ("A (@1,", "-171"),
        ("A (@x)", "-171"),
    ] {
        assert_eq!(shape(message), [code], "{message}");
    }
    assert_eq!(shape(&format!("A {}", "1".repeat(256))), ["-124"]);
}

#[test]
fn units_before_a_mistake_stand_and_those_after_do_not() {
    assert_eq!(shape("A 1;B 'x;C"), ["A 1", "-151"]);
    assert_eq!(shape("A;"), ["A 0", "-102"]);
    assert_eq!(shape("A;;B"), ["A 0", "-102"]);
    let error = program_units(b"A 1 2").next().unwrap().unwrap_err();
    assert_eq!(error.at, 4);
}

/// -108 and -109: SCPI-1999 volume 1, clause 21.8.9.
#[test]
fn counts_of_parameters() {
    let unit = program_units(b"A 1,2").next().unwrap().unwrap();
    assert!(unit.exactly::<2>().is_ok() && unit.between(1, 3).is_ok());
    assert_eq!(unit.exactly::<1>().map_err(ErrorCode::number), Err(-108));
    assert_eq!(unit.exactly::<3>().map_err(ErrorCode::number), Err(-109));
    assert_eq!(unit.between(3, 4).map_err(ErrorCode::number), Err(-109));
}

#[test]
fn headers_resolve_in_a_tree() {
    let mut tree = Tree::new();
    tree.insert("[SENSe:]FREQuency:CENTer[?]", 'c').unwrap();
    tree.insert("[SENSe:]FREQuency:SPAN[?]", 's').unwrap();
    let resolve = |message: &'static [u8]| -> Vec<Result<char, i16>> {
        let entry = |unit: ProgramUnit| unit.resolve(&tree).map(|found| *found.entry);
        program_units(message).map(|unit| entry(unit.unwrap()).map_err(ErrorCode::number)).collect()
    };
    assert_eq!(resolve(b"FREQ:CENT 1;SPAN?"), [Ok('c'), Ok('s')]);
    assert_eq!(resolve(b"sens:freq:cent?;FREQ:SPAN?"), [Ok('c'), Err(-113)]);
    assert_eq!(resolve(b"FREK:CENT 1"), [Err(-113)]);
}

#[test]
fn a_relative_message_does_not_grow_without_end() {
    let message = "A:B;".repeat(1000) + "A:B";
    let last = program_units(message.as_bytes()).last().unwrap();
    assert_eq!(last.map_err(|error| error.code.number()).unwrap_err(), -113);
}

proptest! {
    #[test]
    fn never_panics_and_ends(message in prop::collection::vec(
        prop_oneof![4 => prop::sample::select(&b"AB:;*?,. 19eE+-#(@)'\"\n"[..]), 1 => any::<u8>()], 0..80))
    {
        let units: Vec<_> = program_units(&message).collect();
        prop_assert!(units.iter().rev().skip(1).all(Result::is_ok));
        for unit in units.into_iter().flatten() {
            prop_assert!(!unit.path.is_empty() && unit.path.len() <= DEEPEST);
            for parameter in &unit.parameters {
                if let Ok(crate::Numeric::Value(value)) = parameter.numeric(Quantity::Frequency) {
                    prop_assert!(value.is_finite());
                }
            }
        }
    }

    /// What the client builds, the instrument reads: framed by a newline, unit by unit, value by value.
    #[test]
    fn both_ends_agree(values in prop::collection::vec(-1e18_f64..1e18, 1..6)) {
        let message = values
            .iter()
            .fold(Message::new(), |m, &v| m.command("SENS:FREQ", [v.into()]).unwrap().query("*OPC", []).unwrap());
        let mut stream = bytes::BytesMut::from(message.as_bytes());
        stream.extend_from_slice(b"\r\n");
        let framed = ProgramDecoder::new(crate::Limits::default()).decode(&mut stream).unwrap().unwrap();
        let units: Vec<ProgramUnit> = program_units(&framed).map(Result::unwrap).collect();
        prop_assert_eq!(units.len(), 2 * values.len());
        for (unit, value) in units.iter().step_by(2).zip(values) {
            prop_assert_eq!(&unit.path, &["SENS", "FREQ"]);
            let [number] = unit.exactly().unwrap();
            prop_assert_eq!(number.numeric(Quantity::Frequency), Ok(crate::Numeric::Value(value)));
        }
    }
}
