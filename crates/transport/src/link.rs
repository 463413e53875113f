//! What every link can be asked, whatever wire is behind it.

use std::io;

use async_trait::async_trait;
use bytes::Bytes;
use spurline_scpi::DecodeError;
use thiserror::Error;

/// Whether a link knows by itself where a message ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Framing {
    /// A stream of bytes: the end is told by a terminator and by block lengths.
    Stream,
    /// The link carries messages.
    Messages,
}

/// A message, or a part of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Received {
    /// The bytes, without a terminator.
    pub bytes: Bytes,
    /// Whether the message ends here.
    pub end: bool,
}

/// What clearing a link did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cleared {
    /// The instrument dropped what it had not yet answered.
    Device,
    /// The link has no such thing; nothing was done.
    NotPossible,
}

/// Why a link failed.
#[derive(Debug, Error)]
pub enum LinkError {
    /// The connection could not be made.
    #[error("cannot connect to {address}")]
    Connect {
        /// Where.
        address: String,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Nobody took the call in time.
    #[error("nobody answered at {address} within {seconds} s")]
    NoAnswer {
        /// Where.
        address: String,
        /// How long it was tried.
        seconds: f64,
    },
    /// The other end closed the link.
    #[error("the instrument closed the link")]
    Gone,
    /// Reading or writing failed.
    #[error("the link failed")]
    Io(#[from] io::Error),
    /// What came cannot be a message.
    #[error("what was received is not a message")]
    Decode(#[from] DecodeError),
}

/// A link to one instrument.
///
/// All methods may be dropped half way: what was received stays in the link.
#[async_trait]
pub trait Link: Send + std::fmt::Debug {
    /// How this link knows the end of a message.
    fn framing(&self) -> Framing;

    /// Sends one whole message; the link adds what its kind needs to mark the end.
    async fn send(&mut self, message: &[u8]) -> Result<(), LinkError>;

    /// Waits for a message.
    async fn receive(&mut self) -> Result<Received, LinkError>;

    /// Bytes that have arrived and that nobody asked for.
    async fn unread(&mut self) -> Result<usize, LinkError>;

    /// Makes the instrument drop what it has not yet answered, where the link can do that.
    async fn clear(&mut self) -> Result<Cleared, LinkError>;

    /// The status byte, where the link can ask for it beside the messages.
    async fn status(&mut self) -> Result<Option<u8>, LinkError>;
}
