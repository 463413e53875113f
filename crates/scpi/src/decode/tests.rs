//! Framing tests: tables for each form, and that the result never depends on how the bytes are split.

use proptest::prelude::*;

use super::*;

const SMALL: Limits = Limits { text: 64, block: 32 };

type Outcome = (Vec<Bytes>, Option<DecodeError>);

/// Feeds `pieces` one by one; collects answers until the first error.
fn feed(limits: Limits, pieces: &[&[u8]]) -> Outcome {
    let mut decoder = ResponseDecoder::new(limits);
    let mut buffer = BytesMut::new();
    let mut answers = Vec::new();
    for piece in pieces {
        buffer.extend_from_slice(piece);
        loop {
            match decoder.decode(&mut buffer) {
                Ok(Some(answer)) => answers.push(answer),
                Ok(None) => break,
                Err(error) => return (answers, Some(error)),
            }
        }
    }
    (answers, None)
}

#[track_caller]
fn check(stream: &[u8], answers: &[&[u8]], error: Option<DecodeError>) {
    let answers: Vec<Bytes> = answers.iter().map(|a| Bytes::copy_from_slice(a)).collect();
    let bytewise: Vec<&[u8]> = stream.chunks(1).collect();
    assert_eq!(feed(SMALL, &[stream]), (answers.clone(), error), "at once");
    assert_eq!(feed(SMALL, &bytewise), (answers, error), "byte by byte");
}

/// Terminator and elements: IEEE 488.2 clauses 8.5 and 8.7; leading and trailing padding is common practice.
#[test]
fn whole_answers() {
    check(b"1.0\n", &[b"1.0"], None);
    check(b"1\n2\r\n3", &[b"1", b"2"], None);
    check(b"\n\r\0 1\0\r\n", &[b"1"], None);
    check(b"\"a\nb\";1\n", &[b"\"a\nb\";1"], None);
    check(b"\"a\"\"\nb\"\n", &[b"\"a\"\"\nb\""], None);
    check(b"say \"x\n", &[b"say \"x"], None);
    check(b"#14a\nb\n\n1\n", &[b"#14a\nb\n", b"1"], None);
    check(b"#13a\r\0\r\n", &[b"#13a\r\0"], None);
    check(b"1,#12\n\n,#(2)\n\n;0\n", &[b"1,#12\n\n,#(2)\n\n;0"], None);
    check(b"#10\n", &[b"#10"], None);
    check(b"#HFF\n", &[b"#HFF"], None);
    check(b"tag #1\n", &[b"tag #1"], None);
}

#[test]
fn refused_streams() {
    check(b"1\n#0abc\n", &[b"1"], Some(DecodeError::IndefiniteBlock));
    check(b"#1x", &[], Some(DecodeError::BlockHeader { found: b'x' }));
    check(b"#233", &[], Some(DecodeError::BlockTooLong { announced: 33, limit: 32 }));
    check(&[b'a'; 65], &[], Some(DecodeError::TextTooLong { limit: 64 }));
    let whole = [&[b'a'; 64][..], b"\n"].concat();
    check(&whole, &[&whole[..64]], None);
}

#[test]
fn a_block_without_terminator_is_finished_by_silence() {
    let mut decoder = ResponseDecoder::new(SMALL);
    let mut buffer = BytesMut::from(&b"#14ab"[..]);
    assert_eq!(decoder.decode(&mut buffer), Ok(None));
    assert!(!decoder.ends_with_block());
    assert_eq!(decoder.progress(), Progress { received: 5, block: Some((2, 4)) });
    let cut = DecodeError::BlockCutShort { expected: 4, found: 2 };
    assert_eq!(decoder.clone().finish(&mut buffer.clone()), Err(cut));

    buffer.extend_from_slice(b"c\n");
    assert_eq!(decoder.decode(&mut buffer), Ok(None));
    assert!(decoder.ends_with_block());
    assert_eq!(decoder.finish(&mut buffer), Ok(Some(Bytes::from_static(b"#14abc\n"))));
    assert_eq!(decoder.finish(&mut buffer), Ok(None));
}

#[test]
fn silence_inside_a_string_or_a_header_is_an_error() {
    for (bytes, error) in [
        (&b"\"abc"[..], DecodeError::StringNotClosed),
        (b"1,#2", DecodeError::BlockCutShort { expected: 0, found: 0 }),
    ] {
        let mut decoder = ResponseDecoder::new(SMALL);
        assert_eq!(decoder.finish(&mut BytesMut::from(bytes)), Err(error));
    }
    let mut text = BytesMut::from(&b"READY\r"[..]);
    assert_eq!(ResponseDecoder::new(SMALL).finish(&mut text), Ok(Some(Bytes::from_static(b"READY"))));
}

/// IEEE 488.2 clause 7.3 and 7.7: NL ends a program message except inside a string or a block.
#[test]
fn program_messages() {
    let mut decoder = ProgramDecoder::new(SMALL);
    let stream = b"*IDN?\r\n\nDISP:TEXT 'a\nb';:X \"it's\"\nTRAC #12\n\n\nFREQ 1\n";
    let mut buffer = BytesMut::from(&stream[..]);
    let mut messages = Vec::new();
    while let Some(message) = decoder.decode(&mut buffer).unwrap() {
        messages.push(message);
    }
    assert_eq!(messages, ["*IDN?", "DISP:TEXT 'a\nb';:X \"it's\"", "TRAC #12\n\n", "FREQ 1"]);
}

#[test]
fn an_overlong_program_message_is_dropped_whole() {
    let mut decoder = ProgramDecoder::new(SMALL);
    let mut buffer = BytesMut::from(&[b'A'; 70][..]);
    let error = decoder.decode(&mut buffer).unwrap_err();
    assert_eq!((error, error.code().number()), (DecodeError::TextTooLong { limit: 64 }, -363));
    assert_eq!(decoder.decode(&mut buffer), Ok(None));
    buffer.extend_from_slice(b"AAA\n*OPC?\n");
    assert_eq!(decoder.decode(&mut buffer), Ok(Some(Bytes::from_static(b"*OPC?"))));
}

fn noisy_stream() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        6 => prop::sample::select(&b"#01239(),;\"\n\r\0 aE.-"[..]),
        1 => any::<u8>(),
    ];
    prop::collection::vec(byte, 0..120)
}

proptest! {
    #[test]
    fn splitting_changes_nothing(stream in noisy_stream(), cuts in prop::collection::vec(1_usize..9, 1..40)) {
        let mut pieces = Vec::new();
        let mut rest = &stream[..];
        for cut in cuts.iter().cycle() {
            if rest.is_empty() {
                break;
            }
            let (piece, after) = rest.split_at((*cut).min(rest.len()));
            pieces.push(piece);
            rest = after;
        }
        prop_assert_eq!(feed(SMALL, &pieces), feed(SMALL, &[&stream[..]]));
    }

    #[test]
    fn program_splitting_changes_nothing(stream in noisy_stream(), size in 1_usize..9) {
        let run = |size: usize| {
            let mut decoder = ProgramDecoder::new(SMALL);
            let mut buffer = BytesMut::new();
            let mut seen = Vec::new();
            for piece in stream.chunks(size) {
                buffer.extend_from_slice(piece);
                loop {
                    match decoder.decode(&mut buffer) {
                        Ok(None) => break,
                        other => seen.push(other),
                    }
                }
            }
            seen
        };
        prop_assert_eq!(run(size), run(stream.len().max(1)));
    }
}
