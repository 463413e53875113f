//! HiSLIP (IVI-6.1): a header of 16 bytes, then a payload, on two connections to the same port.

mod codes;
mod decode;
mod greeting;

use bytes::{BufMut, Bytes, BytesMut};

pub use codes::{ErrorKind, FatalKind, Kind};
pub use decode::{DecodeError, Decoder};
pub use greeting::{Greeting, Version, Welcome, read_size, size};

/// The port that is registered for HiSLIP.
pub const PORT: u16 = 4880;
/// Bytes of a header.
pub const HEADER: usize = 16;
/// What every header begins with (table 3).
pub const PROLOGUE: [u8; 2] = *b"HS";
/// The identity of the first message after initialisation and after a device clear (clause 3.1).
pub const FIRST_MESSAGE: u32 = 0xffff_ff00;
/// Stands in a part of an answer, never in its last part, when it is not known yet which message it answers.
pub const ANY_MESSAGE: u32 = 0xffff_ffff;
/// Bit 0 of the control code of `Data`, `DataEnd`, `Trigger` and `AsyncStatusQuery`: the client has handed out a
/// whole answer since it last said so.
pub const DELIVERED: u8 = 1;
/// Bit 0 of the control code of `InitializeResponse` and of the messages of a device clear: overlapped, not
/// synchronised.
pub const OVERLAPPED: u8 = 1;

/// The identity of the message after `id`; it passes through zero.
#[must_use]
pub const fn next_message(id: u32) -> u32 {
    id.wrapping_add(2)
}

/// What stands before a payload.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Header {
    /// What kind of message this is.
    pub kind: Kind,
    /// The control code; its meaning depends on the kind.
    pub control: u8,
    /// The message parameter; its meaning depends on the kind.
    pub parameter: u32,
    /// Bytes of the payload.
    pub length: u64,
}

impl Header {
    /// As it is sent.
    #[must_use]
    pub fn encode(self) -> [u8; HEADER] {
        let mut bytes = [0; HEADER];
        bytes[..2].copy_from_slice(&PROLOGUE);
        bytes[2] = self.kind.into();
        bytes[3] = self.control;
        bytes[4..8].copy_from_slice(&self.parameter.to_be_bytes());
        bytes[8..].copy_from_slice(&self.length.to_be_bytes());
        bytes
    }

    /// Reads a header.
    ///
    /// # Errors
    ///
    /// [`DecodeError::Prologue`] if it does not begin with `HS`.
    pub fn decode(bytes: &[u8; HEADER]) -> Result<Self, DecodeError> {
        let [h, s, kind, control, p0, p1, p2, p3, length @ ..] = *bytes;
        if [h, s] != PROLOGUE {
            return Err(DecodeError::Prologue { found: [h, s] });
        }
        Ok(Self {
            kind: kind.into(),
            control,
            parameter: u32::from_be_bytes([p0, p1, p2, p3]),
            length: u64::from_be_bytes(length),
        })
    }
}

/// One message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Message {
    /// What kind of message this is.
    pub kind: Kind,
    /// The control code.
    pub control: u8,
    /// The message parameter.
    pub parameter: u32,
    /// What follows the header.
    pub payload: Bytes,
}

impl Message {
    /// A message.
    #[must_use]
    pub fn new(kind: Kind, control: u8, parameter: u32, payload: impl Into<Bytes>) -> Self {
        Self { kind, control, parameter, payload: payload.into() }
    }

    /// A message without payload.
    #[must_use]
    pub fn bare(kind: Kind, control: u8, parameter: u32) -> Self {
        Self::new(kind, control, parameter, Bytes::new())
    }

    /// A `FatalError`, after which the sender closes both connections (clause 6.2).
    #[must_use]
    pub fn fatal(kind: FatalKind, text: &str) -> Self {
        Self::new(Kind::FatalError, kind.into(), 0, Bytes::copy_from_slice(text.as_bytes()))
    }

    /// An `Error`, after which the conversation goes on (clause 6.3).
    #[must_use]
    pub fn error(kind: ErrorKind, text: &str) -> Self {
        Self::new(Kind::Error, kind.into(), 0, Bytes::copy_from_slice(text.as_bytes()))
    }

    /// The header of this message.
    #[must_use]
    pub fn header(&self) -> Header {
        Header {
            kind: self.kind,
            control: self.control,
            parameter: self.parameter,
            length: self.payload.len() as u64,
        }
    }

    /// Appends the message as it is sent.
    pub fn encode(&self, out: &mut BytesMut) {
        out.reserve(HEADER + self.payload.len());
        out.put_slice(&self.header().encode());
        out.put_slice(&self.payload);
    }
}

#[cfg(test)]
mod tests;
