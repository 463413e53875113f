//! VXI-11 from the stream up: record marks, calls and replies, the bodies of every procedure.

use bytes::{Bytes, BytesMut};
use spurline_wire::portmap::{Mapping, decode_port, encode_port};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, RecordError, Reply};
use spurline_wire::vxi11::{
    CreateLink, Created, Generic, Read, ReadDone, StatusDone, Write, WriteDone, decode_error, encode_error,
};

use super::cut;

const LIMIT: usize = 400;
/// Bytes of a record mark.
const MARK: usize = 4;

/// Records arrive in pieces, are cut out, and read as calls, replies and bodies.
pub fn vxi11(data: &[u8]) {
    let Some((piece, stream)) = cut(data) else { return };
    let found = decoded(stream, piece);
    assert_eq!(found, decoded(stream, usize::MAX), "pieces change nothing");
    for record in found.0 {
        assert!(record.len() <= MARK + LIMIT);
        if let Ok(call) = Call::decode(record.clone()) {
            let again = Bytes::from(call.encode().expect("a record that fits the limit fits a fragment"));
            assert_eq!(Call::decode(again).as_ref(), Ok(&call));
            bodies(&call.arguments);
        }
        if let Ok(reply) = Reply::decode(record) {
            let again = Bytes::from(reply.encode().expect("a record that fits the limit fits a fragment"));
            assert_eq!(Reply::decode(again).as_ref(), Ok(&reply));
            if let Outcome::Done(results) = &reply.outcome {
                bodies(results);
            }
        }
    }
    bodies(&Bytes::copy_from_slice(stream));
    let record = Bytes::copy_from_slice(stream);
    assert!(Call::decode(record.clone()).is_err() || Reply::decode(record).is_err());
}

fn decoded(stream: &[u8], size: usize) -> (Vec<Bytes>, Option<RecordError>) {
    let (mut decoder, mut buffer, mut records) = (RecordDecoder::new(LIMIT), BytesMut::new(), Vec::new());
    for piece in stream.chunks(size) {
        buffer.extend_from_slice(piece);
        loop {
            match decoder.decode(&mut buffer) {
                Ok(Some(record)) => records.push(record),
                Ok(None) => break,
                Err(error) => return (records, Some(error)),
            }
        }
        assert!(buffer.len() < MARK + LIMIT, "{} bytes are held", buffer.len());
        assert!(buffer.capacity() <= 2 * (LIMIT + piece.len()) + 64, "{} bytes set aside", buffer.capacity());
    }
    (records, None)
}

/// What reads as the body of a procedure reads the same once written again, and holds no more than there was.
fn bodies(bytes: &Bytes) {
    macro_rules! again {
        ($($body:ty),+) => {
            $(if let Ok(body) = <$body>::decode(bytes.clone()) {
                assert_eq!(<$body>::decode(body.encode()), Ok(body));
            })+
        };
    }
    again!(CreateLink, Created, Generic, Mapping, Read, ReadDone, StatusDone, Write, WriteDone);
    if let Ok(code) = decode_error(bytes.clone()) {
        assert_eq!(decode_error(encode_error(code)), Ok(code));
        assert!(!code.to_string().is_empty());
    }
    if let Ok(port) = decode_port(bytes.clone()) {
        assert_eq!(decode_port(encode_port(port)), Ok(port));
    }
    if let Ok(write) = Write::decode(bytes.clone()) {
        assert!(write.data.len() <= bytes.len());
    }
}
