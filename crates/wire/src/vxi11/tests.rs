//! Byte strings worked out by hand from VXI-11 appendix C, and hostile input.

use bytes::Bytes;
use proptest::prelude::*;

use super::*;
use crate::xdr::XdrError;

/// Clause B.6.1: client, lockDevice, lock_timeout, device; then error, lid, abortPort, maxRecvSize.
#[test]
fn a_link_is_created() {
    let wanted =
        CreateLink { client: -1, lock: false, lock_timeout: 1000, device: Bytes::from_static(b"inst0") };
    let bytes = wanted.encode();
    assert_eq!(&bytes[..], b"\xff\xff\xff\xff\0\0\0\0\0\0\x03\xe8\0\0\0\x05inst0\0\0\0");
    assert_eq!(CreateLink::decode(bytes), Ok(wanted));
    let created = Created { error: Code::NONE, link: 3, abort_port: 1025, most_receive: 4096 };
    let bytes = created.encode();
    assert_eq!(&bytes[..], b"\0\0\0\0\0\0\0\x03\0\0\x04\x01\0\0\x10\0");
    assert_eq!(Created::decode(bytes), Ok(created));
}

/// Clause B.6.3: lid, io_timeout, lock_timeout, flags with END in bit 3, data.
#[test]
fn a_message_is_written() {
    let data = Bytes::from_static(b"*IDN?\n");
    let write = Write { link: 3, io_timeout: 2000, lock_timeout: 0, flags: flag::END, data };
    let bytes = write.encode();
    assert_eq!(&bytes[..], b"\0\0\0\x03\0\0\x07\xd0\0\0\0\0\0\0\0\x08\0\0\0\x06*IDN?\n\0\0");
    assert_eq!(Write::decode(bytes), Ok(write));
    let done = WriteDone { error: Code::TIMEOUT, size: 6 };
    assert_eq!(&done.encode()[..], b"\0\0\0\x0f\0\0\0\x06");
    assert_eq!(WriteDone::decode(done.encode()), Ok(done));
}

/// Clause B.6.4: lid, requestSize, io_timeout, lock_timeout, flags, termChar; then error, reason, data.
#[test]
fn a_message_is_read() {
    let read =
        Read { link: 3, request: 256, io_timeout: 2000, lock_timeout: 0, flags: 0x80, termchar: b'\n' };
    let bytes = read.encode();
    assert_eq!(&bytes[..], b"\0\0\0\x03\0\0\x01\0\0\0\x07\xd0\0\0\0\0\0\0\0\x80\0\0\0\x0a");
    assert_eq!(Read::decode(bytes), Ok(read));
    let done = ReadDone { error: Code::NONE, reason: reason::END, data: Bytes::from_static(b"1\n") };
    assert_eq!(&done.encode()[..], b"\0\0\0\0\0\0\0\x04\0\0\0\x021\n\0\0");
    assert_eq!(ReadDone::decode(done.encode()), Ok(done));
}

/// Appendix C: `Device_GenericParms` has the lock's timeout before that of input and output, unlike a write.
#[test]
fn the_status_byte_is_read() {
    let generic = Generic { link: 3, flags: flag::WAIT_LOCK, lock_timeout: 1, io_timeout: 2 };
    assert_eq!(&generic.encode()[..], b"\0\0\0\x03\0\0\0\x01\0\0\0\x01\0\0\0\x02");
    assert_eq!(Generic::decode(generic.encode()), Ok(generic));
    let done = StatusDone { error: Code::NONE, status: 0x50 };
    assert_eq!(&done.encode()[..], b"\0\0\0\0\0\0\0\x50");
    assert_eq!(StatusDone::decode(done.encode()), Ok(done));
    assert_eq!(decode_error(encode_error(Code::LOCKED)), Ok(Code(11)));
}

#[test]
fn an_error_has_words_and_its_number() {
    assert_eq!(Code(11).to_string(), "device locked by another link (11)");
    assert_eq!(Code(99).to_string(), "unknown error (99)");
}

#[test]
fn more_data_than_there_is_are_refused() {
    let lie = Bytes::from_static(b"\0\0\0\0\0\0\0\x04\x7f\xff\xff\xff1\n\0\0");
    assert_eq!(ReadDone::decode(lie), Err(XdrError::Short { expected: 1 << 31, found: 4 }));
    let more = Bytes::from_static(b"\0\0\0\0\0\0\0\x04\0\0\0\0more");
    assert_eq!(ReadDone::decode(more), Err(XdrError::Trailing { left: 4 }));
}

proptest! {
    #[test]
    fn written_data_come_back(
        link in any::<i32>(), io_timeout in any::<u32>(), lock_timeout in any::<u32>(), flags in any::<u32>(),
        data in prop::collection::vec(any::<u8>(), 0..100),
    ) {
        let write = Write { link, io_timeout, lock_timeout, flags, data: data.clone().into() };
        prop_assert_eq!(Write::decode(write.encode()), Ok(write));
        let done = ReadDone { error: Code(flags), reason: lock_timeout, data: data.into() };
        prop_assert_eq!(ReadDone::decode(done.encode()), Ok(done));
    }

    #[test]
    fn anything_may_come(bytes in prop::collection::vec(any::<u8>(), 0..60)) {
        let bytes = Bytes::from(bytes);
        let long = |data: Bytes| data.len() <= bytes.len();
        prop_assert!(CreateLink::decode(bytes.clone()).map_or(true, |link| long(link.device)));
        prop_assert!(Write::decode(bytes.clone()).map_or(true, |write| long(write.data)));
        prop_assert!(ReadDone::decode(bytes.clone()).map_or(true, |done| long(done.data)));
        prop_assert_eq!(Read::decode(bytes.clone()).is_ok(), bytes.len() == 24);
        prop_assert_eq!(Generic::decode(bytes.clone()).is_ok(), bytes.len() == 16);
        prop_assert_eq!(Created::decode(bytes.clone()).is_ok(), bytes.len() == 16);
    }
}
