//! Byte strings worked out by hand from RFC 5531, fragments, and hostile input.

use bytes::BytesMut;
use proptest::prelude::*;

use super::*;

/// RFC 5531 clause 9 (call 0, RPC version 2, program, version, procedure, two empty AUTH_NONE) and clause 11 (last
/// fragment of 40 bytes).
const NULL_CALL: &[u8] = b"\x80\0\0\x28\0\0\0\x2a\0\0\0\0\0\0\0\x02\0\x06\x07\xaf\0\0\0\x01\0\0\0\0\
    \0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0";
/// Clause 9: reply 1, accepted 0, verifier AUTH_NONE, status 0, then the results.
const REPLY: &[u8] = b"\x80\0\0\x1c\0\0\0\x2a\0\0\0\x01\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\x07";

fn null_call() -> Call {
    Call { xid: 42, program: 0x0607af, version: 1, procedure: 0, arguments: Bytes::new() }
}

#[test]
fn calls_and_replies_have_the_bytes_of_the_standard() {
    assert_eq!(null_call().encode().unwrap(), NULL_CALL);
    assert_eq!(Call::decode(Bytes::from_static(NULL_CALL)), Ok(null_call()));
    let reply = Reply { xid: 42, outcome: Outcome::Done(Bytes::from_static(b"\0\0\0\x07")) };
    assert_eq!(reply.encode().unwrap(), REPLY);
    assert_eq!(Reply::decode(Bytes::from_static(REPLY)), Ok(reply));
    assert_eq!(Call::decode(Bytes::from_static(REPLY)), Err(RpcError::Direction { expected: "call" }));
    assert_eq!(Reply::decode(Bytes::from_static(NULL_CALL)), Err(RpcError::Direction { expected: "reply" }));
}

#[test]
fn every_outcome_comes_back() {
    for outcome in [
        Outcome::NoProgram,
        Outcome::NoVersion { low: 1, high: 3 },
        Outcome::NoProcedure,
        Outcome::BadArguments,
        Outcome::Broken,
        Outcome::Denied,
    ] {
        let reply = Reply { xid: 7, outcome };
        assert_eq!(Reply::decode(Bytes::from(reply.encode().unwrap())), Ok(reply));
    }
}

/// Clause 11: the same record in three fragments, one of them empty, and two records in a row.
#[test]
fn a_record_may_come_in_fragments() {
    let mut buffer = BytesMut::new();
    for (mark, part) in [(4_u32, &NULL_CALL[4..8]), (0, &[][..]), (1 << 31 | 36, &NULL_CALL[8..])] {
        buffer.extend_from_slice(&mark.to_be_bytes());
        buffer.extend_from_slice(part);
    }
    buffer.extend_from_slice(REPLY);
    let mut decoder = RecordDecoder::new(100);
    assert_eq!(decoder.decode(&mut buffer).unwrap().unwrap(), NULL_CALL);
    assert_eq!(decoder.decode(&mut buffer).unwrap().unwrap(), REPLY);
    assert_eq!(decoder.decode(&mut buffer), Ok(None));
    assert!(!decoder.is_within(&buffer));
}

#[test]
fn monstrous_records_are_refused_before_memory_is_set_aside() {
    let mut buffer = BytesMut::from(&b"\xff\xff\xff\xff"[..]);
    let before = buffer.capacity();
    let refused = RecordDecoder::new(1000).decode(&mut buffer);
    assert_eq!(refused, Err(RecordError::TooLong { announced: (1 << 31) - 1, limit: 1000 }));
    assert_eq!(buffer.capacity(), before);

    let mut parts = BytesMut::new();
    for _ in 0..3 {
        parts.extend_from_slice(&400_u32.to_be_bytes());
        parts.extend_from_slice(&[0; 400]);
    }
    let refused = RecordDecoder::new(1000).decode(&mut parts);
    assert_eq!(refused, Err(RecordError::TooLong { announced: 1200, limit: 1000 }));

    let mut crumbs = BytesMut::zeroed(4 * 2000);
    assert_eq!(RecordDecoder::new(1000).decode(&mut crumbs), Err(RecordError::Fragments));
}

proptest! {
    #[test]
    fn calls_come_back_however_they_are_cut(
        xid in any::<u32>(), program in any::<u32>(), version in any::<u32>(), procedure in any::<u32>(),
        arguments in prop::collection::vec(any::<u8>(), 0..200),
        cuts in prop::collection::vec(1_usize..40, 1..60),
    ) {
        let call = Call { xid, program, version, procedure, arguments: arguments.into() };
        let mut stream = BytesMut::from(&call.encode().unwrap()[..]);
        let (mut decoder, mut buffer) = (RecordDecoder::new(1000), BytesMut::new());
        let mut cuts = cuts.iter().cycle();
        let record = loop {
            if let Some(record) = decoder.decode(&mut buffer).unwrap() {
                break record;
            }
            let piece = (*cuts.next().unwrap()).min(stream.len());
            prop_assert!(piece > 0);
            buffer.extend_from_slice(&stream.split_to(piece));
        };
        prop_assert_eq!(Call::decode(record), Ok(call));
    }

    /// A record is never a panic, whatever stands in it: random bytes, and a good call with bytes changed.
    #[test]
    fn anything_may_come(
        bytes in prop::collection::vec(any::<u8>(), 0..120),
        changes in prop::collection::vec((0..NULL_CALL.len(), any::<u8>()), 0..4),
    ) {
        let mut marked = (1_u32 << 31 | bytes.len() as u32).to_be_bytes().to_vec();
        marked.extend_from_slice(&bytes);
        let mut changed = NULL_CALL.to_vec();
        for (at, byte) in changes {
            changed[at] = byte;
        }
        for record in [marked, changed, bytes] {
            let record = Bytes::from(record);
            let call = Call::decode(record.clone());
            prop_assert!(call.is_err() || Reply::decode(record.clone()).is_err());
            let mut buffer = BytesMut::from(&record[..]);
            let mut decoder = RecordDecoder::new(64);
            while let Ok(Some(record)) = decoder.decode(&mut buffer) {
                prop_assert!(record.len() <= 68);
            }
        }
    }
}
