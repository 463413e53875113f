//! What every link can be asked, whatever wire is behind it.

use std::error::Error as StdError;
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

/// Why a link failed; a second line is advice.
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
    /// Somebody took the call and then said nothing.
    #[error("expected {expected} from {address}, found nothing within {seconds} s")]
    Mute {
        /// Where.
        address: String,
        /// What was waited for.
        expected: &'static str,
        /// How long.
        seconds: f64,
    },
    /// Another program has the serial port.
    #[error("the serial port {device} is in use by another program\nend that program, or name another port")]
    InUse {
        /// The device's path.
        device: String,
    },
    /// The instrument said no, or that it could not.
    #[error("{address} refused {asked}: {why}")]
    Refused {
        /// Where.
        address: String,
        /// What it was asked for.
        asked: &'static str,
        /// Its words, or the name of its error with the number.
        why: String,
        /// Whether nothing more can be said on this link.
        fatal: bool,
        /// Whether it is because another program has it.
        busy: bool,
    },
    /// What came is not of the link's protocol.
    #[error("what came from {address} is not {protocol}")]
    Protocol {
        /// Where.
        address: String,
        /// The protocol.
        protocol: &'static str,
        /// What is wrong with it.
        #[source]
        source: Box<dyn StdError + Send + Sync>,
    },
    /// The instrument dropped the answer that it owed.
    #[error("the instrument was interrupted and dropped its answer")]
    Interrupted,
    /// What was sent did not come back.
    #[error(
        "expected `{expected}` sent back, found `{found}`\nits profile says `echo: true`; write `echo: false` if \
         the instrument does not send back what it gets"
    )]
    NoEcho {
        /// What was sent.
        expected: String,
        /// What came in its place.
        found: String,
    },
    /// More came than is taken.
    #[error("expected an answer of at most {limit} bytes, found a longer one")]
    TooLong {
        /// What is taken.
        limit: usize,
    },
    /// The other end closed the link.
    #[error("the instrument closed the link")]
    Gone,
    /// Reading or writing failed.
    #[error("the link failed")]
    Io(#[source] io::Error),
    /// What came cannot be a message.
    #[error("what was received is not a message")]
    Decode(#[from] DecodeError),
}

impl LinkError {
    /// Whether the link can be used again after it was cleared or brought back into step.
    #[must_use]
    pub fn is_passing(&self) -> bool {
        match self {
            Self::Decode(_) | Self::Interrupted | Self::NoEcho { .. } => true,
            Self::Refused { fatal, .. } => !fatal,
            Self::Connect { .. }
            | Self::NoAnswer { .. }
            | Self::Mute { .. }
            | Self::InUse { .. }
            | Self::Protocol { .. }
            | Self::TooLong { .. }
            | Self::Gone
            | Self::Io(_) => false,
        }
    }
}

/// A peer that has closed is told in several ways; on a serial port `EIO`, `ENXIO` and `ENODEV` are a line that was
/// pulled out.
impl From<io::Error> for LinkError {
    fn from(error: io::Error) -> Self {
        const PULLED_OUT: [i32; 3] = [5, 6, 19];
        let closed = matches!(
            error.kind(),
            io::ErrorKind::ConnectionReset
                | io::ErrorKind::ConnectionAborted
                | io::ErrorKind::BrokenPipe
                | io::ErrorKind::UnexpectedEof
        );
        if closed || error.raw_os_error().is_some_and(|number| cfg!(unix) && PULLED_OUT.contains(&number)) {
            Self::Gone
        } else {
            Self::Io(error)
        }
    }
}

impl LinkError {
    /// Whether somebody was there who would not, or could not, speak: as when its only connection is taken.
    pub(crate) fn is_of_somebody_busy(&self) -> bool {
        match self {
            Self::Mute { .. } | Self::Refused { busy: true, .. } | Self::Gone => true,
            Self::Io(error) => error.kind() == io::ErrorKind::ConnectionReset,
            _ => false,
        }
    }
}

/// Waits for the whole of one message, in however many parts the link gives it.
///
/// # Errors
///
/// [`LinkError`], as [`Link::receive`].
pub async fn receive_whole(link: &mut dyn Link) -> Result<Bytes, LinkError> {
    let mut whole: Vec<u8> = Vec::new();
    loop {
        let received = link.receive().await?;
        if received.end && whole.is_empty() {
            return Ok(received.bytes);
        }
        whole.extend_from_slice(&received.bytes);
        if received.end {
            return Ok(whole.into());
        }
    }
}

/// A link to one instrument.
///
/// All methods may be dropped half way: what was received stays in the link, and what was begun to be sent is
/// finished before anything else is sent.
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

    /// What could not be read as a message, since the last call, as it came.
    fn unreadable(&mut self) -> Bytes {
        Bytes::new()
    }

    /// Makes the instrument drop what it has not yet answered, where the link can do that.
    async fn clear(&mut self) -> Result<Cleared, LinkError>;

    /// The status byte, where the link can ask for it beside the messages.
    async fn status(&mut self) -> Result<Option<u8>, LinkError>;
}
