//! Byte strings worked out by hand from IVI-6.1, and hostile input.

use proptest::prelude::*;

use super::*;

fn encoded(message: &Message) -> Vec<u8> {
    let mut out = BytesMut::new();
    message.encode(&mut out);
    out.to_vec()
}

/// IVI-6.1 table 3: prologue, type, control code, parameter, payload length, all big-endian; clause 6.1: version 1.0
/// and the vendor's two characters share the parameter.
#[test]
fn a_client_greets() {
    let greeting =
        Greeting { version: Version::ONE, vendor: *b"XX", sub_address: Bytes::from_static(b"hislip0") };
    let bytes = encoded(&greeting.message());
    assert_eq!(bytes, b"HS\x00\x00\x01\x00XX\x00\x00\x00\x00\x00\x00\x00\x07hislip0");
    let mut buffer = BytesMut::from(&bytes[..]);
    let message = Decoder::new(256).decode(&mut buffer).unwrap().unwrap();
    assert_eq!(Greeting::read(&message), Some(greeting));
    assert_eq!(Welcome::read(&message), None);
    assert!(buffer.is_empty());
}

/// Clause 6.1: control code bit 0 is the preference for overlap; the parameter is version, then session.
#[test]
fn a_server_welcomes() {
    let welcome = Welcome { version: Version { major: 1, minor: 1 }, session: 0x1234, overlapped: true };
    let bytes = encoded(&welcome.message());
    assert_eq!(bytes, b"HS\x01\x01\x01\x01\x12\x34\x00\x00\x00\x00\x00\x00\x00\x00");
    assert_eq!(Welcome::read(&welcome.message()), Some(welcome));
}

/// Clause 3.1: identities start at 0xffff_ff00 and step by 2, past the end of the number.
#[test]
fn message_identities_pass_through_zero() {
    let last = (0..127).fold(FIRST_MESSAGE, |id, _| next_message(id));
    assert_eq!((last, next_message(last)), (0xffff_fffe, 0));
}

/// Clause 6.4: `DataEnd` is type 7; table 4 for the others.
#[test]
fn kinds_have_the_numbers_of_the_standard() {
    let data = Message::new(Kind::DataEnd, DELIVERED, FIRST_MESSAGE, &b"*IDN?\n"[..]);
    assert_eq!(encoded(&data), b"HS\x07\x01\xff\xff\xff\x00\x00\x00\x00\x00\x00\x00\x00\x06*IDN?\n");
    for (kind, number) in [
        (Kind::FatalError, 2),
        (Kind::Error, 3),
        (Kind::Data, 6),
        (Kind::DeviceClearComplete, 8),
        (Kind::Trigger, 12),
        (Kind::AsyncInterrupted, 14),
        (Kind::AsyncMaximumMessageSize, 15),
        (Kind::AsyncInitialize, 17),
        (Kind::AsyncDeviceClear, 19),
        (Kind::AsyncStatusResponse, 22),
        (Kind::AsyncDeviceClearAcknowledge, 23),
        (Kind::AsyncLockInfoResponse, 25),
    ] {
        assert_eq!((u8::from(kind), Kind::from(number)), (number, kind));
    }
    assert!((0..=u8::MAX).all(|number| u8::from(Kind::from(number)) == number));
    assert!((0..=u8::MAX).all(|code| u8::from(FatalKind::from(code)) == code));
    assert!((0..=u8::MAX).all(|code| u8::from(ErrorKind::from(code)) == code));
}

/// Clause 6.9: the size is a number of 8 bytes in the payload.
#[test]
fn sizes_are_numbers_of_eight_bytes() {
    let message = size(Kind::AsyncMaximumMessageSize, 1 << 20);
    assert_eq!(encoded(&message), b"HS\x0f\0\0\0\0\0\0\0\0\0\0\0\0\x08\0\0\0\0\0\x10\0\0");
    assert_eq!(read_size(&message), Some(1 << 20));
    assert_eq!(read_size(&Message::bare(Kind::AsyncMaximumMessageSize, 0, 0)), None);
}

#[test]
fn a_monstrous_length_is_refused_before_memory_is_set_aside() {
    for announced in [1001, u64::from(u32::MAX) + 1, 1 << 60, u64::MAX] {
        let header = Header { kind: Kind::DataEnd, control: 0, parameter: 0, length: announced };
        let mut buffer = BytesMut::from(&header.encode()[..]);
        let before = buffer.capacity();
        let refused = Decoder::new(1000).decode(&mut buffer);
        assert_eq!(refused, Err(DecodeError::TooLong { announced, limit: 1000 }));
        assert_eq!(buffer.capacity(), before);
    }
}

#[test]
fn what_is_not_hislip_is_refused() {
    let mut buffer = BytesMut::from(&b"HTTP/1.1 400 Bad"[..]);
    let refused = Decoder::new(1000).decode(&mut buffer);
    assert_eq!(refused, Err(DecodeError::Prologue { found: *b"HT" }));
}

fn any_message() -> impl Strategy<Value = Message> {
    (any::<u8>(), any::<u8>(), any::<u32>(), prop::collection::vec(any::<u8>(), 0..300)).prop_map(
        |(kind, control, parameter, payload)| Message::new(kind.into(), control, parameter, payload),
    )
}

proptest! {
    #[test]
    fn messages_come_back_however_they_are_cut(
        messages in prop::collection::vec(any_message(), 0..5),
        cuts in prop::collection::vec(1_usize..40, 1..60),
    ) {
        let mut stream = BytesMut::new();
        messages.iter().for_each(|message| message.encode(&mut stream));
        let (mut decoder, mut buffer, mut found) = (Decoder::new(300), BytesMut::new(), Vec::new());
        let mut cuts = cuts.iter().cycle();
        while !stream.is_empty() {
            let piece = (*cuts.next().unwrap()).min(stream.len());
            buffer.extend_from_slice(&stream.split_to(piece));
            while let Some(message) = decoder.decode(&mut buffer).unwrap() {
                found.push(message);
            }
        }
        prop_assert!(!decoder.is_within(&buffer));
        prop_assert_eq!(found, messages);
    }

    #[test]
    fn anything_may_come(bytes in prop::collection::vec(any::<u8>(), 0..100)) {
        let mut buffer = BytesMut::from(&bytes[..]);
        let mut decoder = Decoder::new(64);
        while let Ok(Some(message)) = decoder.decode(&mut buffer) {
            prop_assert!(message.payload.len() <= 64);
        }
    }
}
