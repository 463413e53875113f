//! What one end writes, the other end reads: every message and body, with any values.

use bytes::{Bytes, BytesMut};
use proptest::prelude::*;
use spurline_wire::hislip::{Decoder, Greeting, Version, Welcome, read_size, size};
use spurline_wire::portmap::{Mapping, decode_port, encode_port};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use spurline_wire::vxi11::{
    Code, CreateLink, Created, Generic, Read, StatusDone, WriteDone, decode_error, encode_error,
};

fn bytes(most: usize) -> impl Strategy<Value = Bytes> {
    prop::collection::vec(any::<u8>(), 0..most).prop_map(Bytes::from)
}

fn outcome() -> impl Strategy<Value = Outcome> {
    prop_oneof![
        bytes(200).prop_map(Outcome::Done),
        Just(Outcome::NoProgram),
        any::<(u32, u32)>().prop_map(|(low, high)| Outcome::NoVersion { low, high }),
        Just(Outcome::NoProcedure),
        Just(Outcome::BadArguments),
        Just(Outcome::Broken),
        Just(Outcome::Denied),
    ]
}

proptest! {
    #[test]
    fn replies_come_back_however_they_are_cut(
        replies in prop::collection::vec((any::<u32>(), outcome()), 1..5), piece in 1_usize..60
    ) {
        let replies: Vec<Reply> = replies.into_iter().map(|(xid, outcome)| Reply { xid, outcome }).collect();
        let stream: Vec<u8> = replies.iter().flat_map(|reply| reply.encode().unwrap()).collect();
        let (mut decoder, mut buffer, mut found) = (RecordDecoder::new(1000), BytesMut::new(), Vec::new());
        for part in stream.chunks(piece) {
            buffer.extend_from_slice(part);
            while let Some(record) = decoder.decode(&mut buffer).unwrap() {
                found.push(Reply::decode(record).unwrap());
            }
        }
        prop_assert!(!decoder.is_within(&buffer));
        prop_assert_eq!(found, replies);
    }

    /// RFC 5531 clause 11: a record is the same in whatever fragments it comes.
    #[test]
    fn a_record_is_the_same_in_any_fragments(
        xid in any::<u32>(), procedure in any::<u32>(), arguments in bytes(300), cuts in prop::collection::vec(0_usize..80, 0..20)
    ) {
        let call = Call { xid, program: 0x0607af, version: 1, procedure, arguments };
        let whole = call.encode().unwrap();
        let mut rest = &whole[4..];
        let mut buffer = BytesMut::new();
        for cut in cuts {
            let (part, after) = rest.split_at(cut.min(rest.len()));
            buffer.extend_from_slice(&(part.len() as u32).to_be_bytes());
            buffer.extend_from_slice(part);
            rest = after;
        }
        buffer.extend_from_slice(&(1 << 31 | rest.len() as u32).to_be_bytes());
        buffer.extend_from_slice(rest);
        let record = RecordDecoder::new(1000).decode(&mut buffer).unwrap().unwrap();
        prop_assert_eq!(&record[..], &whole[..]);
        prop_assert_eq!(Call::decode(record), Ok(call));
    }

    #[test]
    fn bodies_come_back(
        a in any::<u32>(), b in any::<u32>(), c in any::<u32>(), d in any::<u32>(), link in any::<i32>(), lock in any::<bool>(),
        byte in any::<u8>(), device in bytes(40),
    ) {
        let create = CreateLink { client: link, lock, lock_timeout: a, device };
        prop_assert_eq!(CreateLink::decode(create.encode()), Ok(create));
        let created = Created { error: Code(a), link, abort_port: b, most_receive: c };
        prop_assert_eq!(Created::decode(created.encode()), Ok(created));
        let generic = Generic { link, flags: a, lock_timeout: b, io_timeout: c };
        prop_assert_eq!(Generic::decode(generic.encode()), Ok(generic));
        let read = Read { link, request: a, io_timeout: b, lock_timeout: c, flags: d, termchar: byte };
        prop_assert_eq!(Read::decode(read.encode()), Ok(read));
        let status = StatusDone { error: Code(a), status: byte };
        prop_assert_eq!(StatusDone::decode(status.encode()), Ok(status));
        let written = WriteDone { error: Code(a), size: b };
        prop_assert_eq!(WriteDone::decode(written.encode()), Ok(written));
        prop_assert_eq!(decode_error(encode_error(Code(a))), Ok(Code(a)));
        let mapping = Mapping { program: a, version: b, protocol: c, port: d };
        prop_assert_eq!(Mapping::decode(mapping.encode()), Ok(mapping));
    }

    /// A port of 0 is none.
    #[test]
    fn ports_come_back(port in any::<Option<u16>>()) {
        prop_assert_eq!(decode_port(encode_port(port)), Ok(port.filter(|port| *port != 0)));
    }

    #[test]
    fn a_session_begins_the_same_at_both_ends(
        major in any::<u8>(), minor in any::<u8>(), vendor in any::<[u8; 2]>(), session in any::<u16>(), overlapped in any::<bool>(),
        sub_address in bytes(40), most in any::<u64>(),
    ) {
        let version = Version { major, minor };
        let greeting = Greeting { version, vendor, sub_address };
        let welcome = Welcome { version, session, overlapped };
        let sized = size(spurline_wire::hislip::Kind::AsyncMaximumMessageSize, most);
        let mut stream = BytesMut::new();
        for message in [greeting.message(), welcome.message(), sized] {
            message.encode(&mut stream);
        }
        let mut decoder = Decoder::new(100);
        let mut next = || decoder.decode(&mut stream).unwrap().unwrap();
        prop_assert_eq!(Greeting::read(&next()), Some(greeting));
        prop_assert_eq!(Welcome::read(&next()), Some(welcome));
        prop_assert_eq!(read_size(&next()), Some(most));
    }
}
