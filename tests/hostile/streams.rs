//! Lengths on a wire: what is announced or never ends is refused before memory is set aside for it.

use bytes::{Bytes, BytesMut};
use spurline_scpi::{DecodeError, Limits, ProgramDecoder, Response, ResponseDecoder};
use spurline_wire::hislip;
use spurline_wire::rpc::{RecordDecoder, RecordError};
use spurline_wire::vxi11::{ReadDone, Write};
use spurline_wire::xdr::XdrError;

const TEXT: usize = 16 << 20;
const BLOCKS: usize = 64 << 20;
const PIECE: usize = 1 << 16;

fn answer(stream: &[u8]) -> (Result<Option<Bytes>, DecodeError>, usize) {
    let mut buffer = BytesMut::from(stream);
    let found = ResponseDecoder::new(Limits::default()).decode(&mut buffer);
    (found, buffer.capacity())
}

/// IEEE 488.2 clause 8.7.9: nine digits are the most that a header can have.
#[test]
fn a_block_of_almost_a_gigabyte_is_refused_by_its_header() {
    for (header, announced) in [
        (&b"#9999999999"[..], 999_999_999),
        (b"#(99999999999)", 99_999_999_999),
        (b"#(99999999999999999999)", u64::MAX),
        (b"1;2,#9999999999", 999_999_999),
    ] {
        let (found, capacity) = answer(header);
        assert_eq!(found, Err(DecodeError::BlockTooLong { announced, limit: BLOCKS }));
        assert!(capacity <= header.len(), "{capacity} bytes set aside");
        let mut buffer = BytesMut::from(header);
        let refused = ProgramDecoder::new(Limits::default()).decode(&mut buffer).unwrap_err();
        assert_eq!(refused.code().number(), -363);
    }
    let (found, _) = answer(&[b"#(", &[b'9'; 4096][..]].concat());
    assert_eq!(found, Err(DecodeError::BlockHeader { found: b'9' }));
}

#[test]
fn many_blocks_are_not_more_than_one() {
    let limits = Limits { text: 100, block: 1000 };
    let block = [b"#3600", &[b'x'; 600][..], b","].concat();
    let mut buffer = BytesMut::from(&block.repeat(3)[..]);
    let found = ResponseDecoder::new(limits).decode(&mut buffer);
    assert_eq!(found, Err(DecodeError::BlockTooLong { announced: 1200, limit: 1000 }));
}

/// The largest block that is allowed: the decoder takes memory for what came, not for what is announced.
#[test]
fn what_is_announced_is_not_yet_held() {
    let header = format!("#8{BLOCKS}");
    let (found, capacity) = answer(header.as_bytes());
    assert_eq!(found, Ok(None));
    assert!(capacity <= header.len(), "{capacity} bytes set aside");
}

/// Feeds `piece` until the decoder gives up; gives back the error, and the most bytes that were held and set aside.
fn endless(piece: &[u8]) -> (DecodeError, usize, usize) {
    let mut decoder = ResponseDecoder::new(Limits::default());
    let mut buffer = BytesMut::new();
    let (mut held, mut set_aside) = (0, 0);
    loop {
        buffer.extend_from_slice(piece);
        held = held.max(buffer.len());
        set_aside = set_aside.max(buffer.capacity());
        match decoder.decode(&mut buffer) {
            Ok(found) => assert_eq!(found, None),
            Err(error) => return (error, held, set_aside),
        }
    }
}

#[test]
fn a_line_without_end_is_refused() {
    let string = [b"\"", &[b'x'; PIECE - 1][..]].concat();
    for piece in [vec![b'a'; PIECE], vec![b','; PIECE], b"x;".repeat(PIECE / 2), string] {
        let (error, held, set_aside) = endless(&piece);
        assert_eq!(error, DecodeError::TextTooLong { limit: TEXT });
        assert!(held <= TEXT + PIECE, "{held} bytes held");
        // A buffer that grows is doubled.
        assert!(set_aside <= 2 * (TEXT + PIECE), "{set_aside} bytes set aside");
    }
}

#[test]
fn an_instrument_drops_a_line_without_end_as_it_comes() {
    let limits = Limits { text: 1 << 10, block: 1 << 12 };
    let mut decoder = ProgramDecoder::new(limits);
    let mut buffer = BytesMut::new();
    let mut refused = 0;
    for _ in 0..1000 {
        buffer.extend_from_slice(&[b'A'; PIECE]);
        while let Err(error) = decoder.decode(&mut buffer) {
            assert_eq!(error, DecodeError::TextTooLong { limit: 1 << 10 });
            refused += 1;
        }
        assert!(buffer.is_empty());
    }
    assert_eq!(refused, 1, "one message, one error");
    assert!(buffer.capacity() <= 4 * PIECE, "{} bytes set aside", buffer.capacity());
    buffer.extend_from_slice(b"A\n*OPC?\n");
    assert_eq!(decoder.decode(&mut buffer), Ok(Some(Bytes::from_static(b"*OPC?"))));
}

#[test]
fn more_elements_than_any_trace_has_are_refused() {
    let commas = Bytes::from(vec![b','; 1 << 20]);
    assert_eq!(Response::parse(commas), Err(DecodeError::TooManyElements { limit: 1 << 20 }));
    let most = Response::parse(Bytes::from(vec![b','; (1 << 20) - 1])).unwrap();
    assert_eq!(most.units[0].elements.len(), 1 << 20);
}

/// IVI-6.1 table 3: the length of a payload is a number of eight bytes.
#[test]
fn a_payload_of_half_of_all_memory_is_refused() {
    let mut buffer = BytesMut::from(&b"HS\x07\0\0\0\0\0\x80\0\0\0\0\0\0\0"[..]);
    let before = buffer.capacity();
    let found = hislip::Decoder::new(BLOCKS).decode(&mut buffer);
    assert_eq!(found, Err(hislip::DecodeError::TooLong { announced: 1 << 63, limit: BLOCKS }));
    assert_eq!(buffer.capacity(), before);
}

/// RFC 5531 clause 11: the length of a fragment has 31 bits, the first one says whether it is the last.
#[test]
fn a_fragment_of_two_gigabytes_is_refused() {
    for mark in [&b"\x7f\xff\xff\xff"[..], b"\xff\xff\xff\xff"] {
        let mut buffer = BytesMut::from(mark);
        let found = RecordDecoder::new(BLOCKS).decode(&mut buffer);
        assert_eq!(found, Err(RecordError::TooLong { announced: (1 << 31) - 1, limit: BLOCKS }));
        assert!(buffer.capacity() <= mark.len());
    }
}

/// RFC 4506 clause 4.10: the length of opaque data has 32 bits.
#[test]
fn opaque_data_beyond_the_message_is_refused() {
    let done = Bytes::from_static(b"\0\0\0\0\0\0\0\x04\xff\xff\xff\xff1\n\0\0");
    assert!(matches!(ReadDone::decode(done), Err(XdrError::Short { found: 4, .. })));
    let write = Bytes::from_static(b"\0\0\0\x03\0\0\x07\xd0\0\0\0\0\0\0\0\x08\x7f\xff\xff\xfc*IDN");
    assert_eq!(Write::decode(write), Err(XdrError::Short { expected: 0x7fff_fffc, found: 4 }));
}
