//! What goes out for one program message, and how: as a good instrument sends it, or as a bad one does.

use std::time::Duration;

use bytes::Bytes;

/// Bytes on their way to the client.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Delivery {
    /// The bytes as they go on the wire, with their terminator.
    pub(crate) bytes: Bytes,
    /// Whether the message ends with them: END, where the link carries it.
    pub(crate) end: bool,
    /// How long the instrument is silent before.
    pub(crate) wait: Duration,
    /// In pieces of this many bytes with this long a gap between them; whole if not stated.
    pub(crate) pieces: Option<(usize, Duration)>,
    /// What happens to the connection afterwards.
    pub(crate) then: Then,
}

/// What becomes of a connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Then {
    /// It stays.
    Stay,
    /// It is closed in good order.
    Close,
    /// It is torn down, with what was under way.
    Reset,
}

impl Delivery {
    /// An answer as it should be: whole, at once, with a new line at its end.
    pub(crate) fn proper(answer: &[u8]) -> Self {
        let mut bytes = Vec::with_capacity(answer.len() + 1);
        bytes.extend_from_slice(answer);
        bytes.push(b'\n');
        Self { bytes: bytes.into(), end: true, wait: Duration::ZERO, pieces: None, then: Then::Stay }
    }
}
