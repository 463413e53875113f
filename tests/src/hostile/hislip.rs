//! HiSLIP: cutting messages out of a stream, and what a session begins with.

use bytes::BytesMut;
use spurline_wire::hislip::{DecodeError, Decoder, Greeting, HEADER, Message, Welcome, read_size, size};

use super::cut;

const LIMIT: usize = 500;

/// HiSLIP arrives in pieces, is cut out, read and written again.
pub fn hislip(data: &[u8]) {
    let Some((piece, stream)) = cut(data) else { return };
    let (messages, error) = decoded(stream, piece);
    assert_eq!((&messages, error), (&decoded(stream, usize::MAX).0, decoded(stream, usize::MAX).1));
    let mut again = BytesMut::new();
    for message in &messages {
        assert!(message.payload.len() <= LIMIT);
        message.encode(&mut again);
        begun(message);
    }
    assert!(stream.starts_with(&again), "what was read is written the same");
    if error.is_none() {
        assert!(stream.len() - again.len() < HEADER + LIMIT);
    }
}

fn decoded(stream: &[u8], size: usize) -> (Vec<Message>, Option<DecodeError>) {
    let (mut decoder, mut buffer, mut messages) = (Decoder::new(LIMIT), BytesMut::new(), Vec::new());
    for piece in stream.chunks(size) {
        buffer.extend_from_slice(piece);
        loop {
            match decoder.decode(&mut buffer) {
                Ok(Some(message)) => messages.push(message),
                Ok(None) => break,
                Err(error) => return (messages, Some(error)),
            }
        }
        // Memory is set aside for what was announced and allowed, and for what came, doubled as it grows.
        assert!(buffer.capacity() <= 2 * (LIMIT + piece.len()) + 64, "{} bytes set aside", buffer.capacity());
        assert!(buffer.len() < HEADER + LIMIT);
    }
    (messages, None)
}

/// What a message says as a greeting, a welcome or a size reads the same once more.
fn begun(message: &Message) {
    if let Some(greeting) = Greeting::read(message) {
        assert_eq!(Greeting::read(&greeting.message()), Some(greeting));
    }
    if let Some(welcome) = Welcome::read(message) {
        assert_eq!(Welcome::read(&welcome.message()), Some(welcome));
    }
    if let Some(bytes) = read_size(message) {
        assert_eq!(read_size(&size(message.kind, bytes)), Some(bytes));
    }
}
