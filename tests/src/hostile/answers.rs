//! Answers of an instrument: framing, taking apart, typed readers.

use bytes::{Bytes, BytesMut};
use spurline_scpi::{ByteOrder, DecodeError, Limits, Response, ResponseDecoder, Unit};

use super::cut;

/// So small that they are met.
const LIMITS: Limits = Limits { text: 400, block: 300 };
/// The digits of a block header that are not counted before the header is whole.
const HEADER: usize = 24;

/// Answers arrive in pieces, are cut out, taken apart and read as everything that they could be.
pub fn answers(data: &[u8]) {
    let Some((size, stream)) = cut(data) else { return };
    let found = decoded(stream, size);
    assert_eq!(found, decoded(stream, usize::MAX), "pieces change nothing");
    for answer in found.0 {
        assert!(answer.len() <= LIMITS.text + LIMITS.block + HEADER);
        let Some(again) = taken_apart(answer) else { continue };
        let mut buffer = BytesMut::from(&again[..]);
        buffer.extend_from_slice(b"\n");
        let framed = ResponseDecoder::new(Limits::default()).decode(&mut buffer);
        assert_eq!(
            framed,
            Ok(Some(again).filter(|again| !again.is_empty())),
            "what is written can be framed"
        );
    }
    taken_apart(Bytes::copy_from_slice(stream));
}

fn decoded(stream: &[u8], size: usize) -> (Vec<Bytes>, Option<DecodeError>) {
    let mut decoder = ResponseDecoder::new(LIMITS);
    let mut buffer = BytesMut::new();
    let mut answers = Vec::new();
    for piece in stream.chunks(size) {
        buffer.extend_from_slice(piece);
        loop {
            match decoder.decode(&mut buffer) {
                Ok(Some(answer)) => answers.push(answer),
                Ok(None) => break,
                Err(error) => return (answers, Some(error)),
            }
        }
        assert!(buffer.len() <= LIMITS.text + LIMITS.block + HEADER, "{} bytes are held", buffer.len());
        let progress = decoder.progress();
        assert!(progress.received <= buffer.len());
        assert!(progress.block.is_none_or(|(found, expected)| found <= expected && expected <= LIMITS.block));
    }
    // Silence ends an answer, or tells why it cannot.
    let (held, within) = (buffer.len(), decoder.progress().block.is_some());
    match decoder.finish(&mut buffer) {
        Ok(Some(answer)) => {
            assert!(answer.len() <= held);
            answers.push(answer);
        }
        Ok(None) => assert_eq!(held, 0),
        Err(error) => {
            assert!(!matches!(error, DecodeError::BlockCutShort { expected: 1.., .. }) || within);
        }
    }
    (answers, None)
}

/// Takes an answer apart and writes it again; gives back what was written.
fn taken_apart(answer: Bytes) -> Option<Bytes> {
    let response = Response::parse(answer).ok()?;
    assert!(response.units.iter().all(|unit| !unit.elements.is_empty()));
    let again = response.encode();
    // At the very end a bare `#` is told from the start of a block by a blank only, which is not written again.
    if !again.ends_with(b"#") {
        assert_eq!(Response::parse(again.clone()).as_ref(), Ok(&response), "what is written is read");
    }
    response.units.iter().for_each(read);
    Some(again)
}

/// Reads a unit as everything that it could be.
fn read(unit: &Unit) {
    let refusals = [
        unit.number().map(|number| assert!(number.finite().is_none_or(f64::is_finite))).err(),
        unit.integer().map(|integer| assert!(integer.unsigned_abs() <= 1 << 53)).err(),
        unit.boolean().err(),
        unit.string().err(),
        unit.f32_list().map(|list| assert!(unit.elements.len() - list.len() <= 1)).err(),
        unit.f32_block(ByteOrder::Big).err(),
        unit.error_entry().err(),
        unit.identity().err(),
    ];
    for refusal in refusals.into_iter().flatten() {
        let told = refusal.to_string();
        assert!(told.chars().count() < 1000, "a refusal shows only the start of what came");
    }
    if let (Ok(big), Ok(little)) = (unit.f32_block(ByteOrder::Big), unit.f32_block(ByteOrder::Little)) {
        assert_eq!(big.len(), little.len());
    }
}
