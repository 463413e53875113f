//! What one end writes, the other end reads, however the bytes are cut on the way.

use bytes::{Bytes, BytesMut};
use proptest::prelude::*;
use spurline_scpi::{
    Argument, ByteOrder, Element, ErrorCode, InstrumentError, Limits, Message, Number, Numeric, Parameter,
    ProgramDecoder, Quantity, Response, ResponseDecoder, Unit, program_units,
};

fn element() -> impl Strategy<Value = Element> {
    prop_oneof![
        any::<i64>().prop_map(Element::from_integer),
        (-9e37..9e37).prop_map(|value| Element::from_number(Number::Finite(value))),
        any::<bool>().prop_map(Element::from_bool),
        "[A-Z][A-Z0-9_]{0,8}".prop_map(|word| Element::from_word(&word)),
        any::<String>().prop_map(|text| Element::from_string(&text)),
        prop::collection::vec(any::<u8>(), 0..300).prop_map(|data| Element::Block(Bytes::from(data))),
    ]
}

fn response() -> impl Strategy<Value = Response> {
    let unit = prop::collection::vec(element(), 1..5).prop_map(Unit::from);
    prop::collection::vec(unit, 1..5).prop_map(|units| Response { units })
}

fn argument() -> impl Strategy<Value = Argument> {
    prop_oneof![
        (-1e30..1e30).prop_map(Argument::Number),
        (-(1_i64 << 53)..1 << 53).prop_map(Argument::Integer),
        any::<bool>().prop_map(Argument::Boolean),
        "[A-Z][A-Z0-9_]{0,11}".prop_map(Argument::Word),
        "[^\\p{Cc}]{0,20}".prop_map(Argument::String),
    ]
}

/// The next whole message of those that arrive in pieces of `size` bytes.
fn in_pieces<E: std::fmt::Debug>(
    stream: &[u8],
    size: usize,
    mut decode: impl FnMut(&mut BytesMut) -> Result<Option<Bytes>, E>,
) -> Vec<Bytes> {
    let (mut buffer, mut found) = (BytesMut::new(), Vec::new());
    for piece in stream.chunks(size) {
        buffer.extend_from_slice(piece);
        while let Some(message) = decode(&mut buffer).expect("what is written is within the limits") {
            found.push(message);
        }
    }
    assert!(buffer.is_empty(), "{buffer:?} is left");
    found
}

proptest! {
    #[test]
    fn answers_come_through(responses in prop::collection::vec(response(), 1..4), size in 1_usize..200) {
        let stream: Vec<u8> = responses.iter().flat_map(|response| [&response.encode()[..], b"\n"].concat()).collect();
        let mut decoder = ResponseDecoder::new(Limits::default());
        let found = in_pieces(&stream, size, |buffer| decoder.decode(buffer));
        let read: Vec<Response> = found.into_iter().map(|answer| Response::parse(answer).unwrap()).collect();
        prop_assert_eq!(read, responses);
    }

    #[test]
    fn commands_come_through(arguments in prop::collection::vec(argument(), 0..6), size in 1_usize..50) {
        let message = Message::new().command("ROUT:CLOS", arguments.clone()).unwrap().query("*OPC", []).unwrap();
        let stream = [message.as_bytes(), b"\n"].concat();
        let mut decoder = ProgramDecoder::new(Limits::default());
        let found = in_pieces(&stream, size, |buffer| decoder.decode(buffer));
        prop_assert_eq!(found.len(), 1);
        let units: Vec<_> = program_units(&found[0]).map(Result::unwrap).collect();
        prop_assert_eq!(units.len(), 2);
        prop_assert!(units[1].query && units[1].path == ["*OPC"]);
        prop_assert_eq!(units[0].parameters.len(), arguments.len());
        for (parameter, argument) in units[0].parameters.iter().zip(&arguments) {
            let same = match argument {
                Argument::Number(value) => parameter.numeric(Quantity::Plain) == Ok(Numeric::Value(*value)),
                Argument::Integer(value) => parameter.numeric(Quantity::Plain) == Ok(Numeric::Value(*value as f64)),
                Argument::Boolean(value) => parameter.boolean() == Ok(*value),
                Argument::Word(word) => parameter.word() == Ok(word),
                Argument::String(text) => parameter.string() == Ok(text),
            };
            prop_assert!(same, "{:?} was sent, {:?} came", argument, parameter);
        }
    }

    /// IEEE 754 clause 5.12.2: nine digits tell all 32-bit floats apart.
    #[test]
    fn a_trace_as_text_and_as_a_block_is_the_same(levels in prop::collection::vec(-1e30_f32..1e30, 1..200)) {
        let text: Vec<Element> = levels.iter().map(|level| Element::from_word(&format!("{level:.8E}"))).collect();
        prop_assert_eq!(Unit::from(text).f32_list(), Ok(levels.clone()));
        for order in [ByteOrder::Big, ByteOrder::Little] {
            let wire = Response { units: vec![Element::from_f32s(&levels, order).into()] }.encode();
            prop_assert_eq!(Response::parse(wire).unwrap().units[0].f32_block(order), Ok(levels.clone()));
        }
    }

    /// SCPI-1999 volume 1, clause 7.2.1: 9.9E37, -9.9E37 and 9.91E37 are marks in blocks too, wherever they stand.
    #[test]
    fn marks_in_a_block_are_found_among_values(mut levels in prop::collection::vec(-1e30_f32..1e30, 3..100), at in any::<prop::sample::Index>()) {
        let place = at.index(levels.len() - 2);
        levels[place..place + 3].copy_from_slice(&[9.9e37, -9.9e37, 9.91e37]);
        let read = Unit::from(Element::from_f32s(&levels, ByteOrder::Big)).f32_block(ByteOrder::Big).unwrap();
        prop_assert!(read[place] == f32::INFINITY && read[place + 1] == f32::NEG_INFINITY && read[place + 2].is_nan());
        prop_assert_eq!(&read[..place], &levels[..place]);
        prop_assert_eq!(&read[place + 3..], &levels[place + 3..]);
    }

    #[test]
    fn errors_come_through(code in any::<i16>(), text in any::<String>()) {
        let unit = Unit::from(vec![Element::from_integer(code.into()), Element::from_string(&text)]);
        let wire = Response { units: vec![unit] }.encode();
        let read = Response::parse(wire).unwrap().units[0].error_entry();
        prop_assert_eq!(read, Ok(InstrumentError { code: ErrorCode::new(code), text }));
    }
}

/// IEEE 488.2 clause 7.7: the forms that a parameter is told by.
#[test]
fn a_block_is_no_string() {
    let unit = program_units(b"A #13abc,\"abc\"").next().unwrap().unwrap();
    assert_eq!(
        unit.parameters,
        [Parameter::Block(Bytes::from_static(b"abc")), Parameter::String("abc".to_owned())]
    );
}
