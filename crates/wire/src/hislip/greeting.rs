//! How a HiSLIP session begins (IVI-6.1 clause 6.1) and what the two ends tell about their sizes (clause 6.9).

use bytes::Bytes;

use super::{Kind, Message, OVERLAPPED};

/// A version of the protocol.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Version {
    /// The number before the point.
    pub major: u8,
    /// The number behind it.
    pub minor: u8,
}

impl Version {
    /// The first version, which every later one understands.
    pub const ONE: Self = Self { major: 1, minor: 0 };

    const fn to_upper(self) -> u32 {
        (self.major as u32) << 24 | (self.minor as u32) << 16
    }

    const fn from_upper(parameter: u32) -> Self {
        let [major, minor, ..] = parameter.to_be_bytes();
        Self { major, minor }
    }
}

/// What a client says first, in `Initialize`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Greeting {
    /// The highest version that it speaks.
    pub version: Version,
    /// Two characters that say who made the client.
    pub vendor: [u8; 2],
    /// Which device behind the address is meant, such as `hislip0`.
    pub sub_address: Bytes,
}

impl Greeting {
    /// The message.
    #[must_use]
    pub fn message(&self) -> Message {
        let parameter = self.version.to_upper() | u32::from(u16::from_be_bytes(self.vendor));
        Message::new(Kind::Initialize, 0, parameter, self.sub_address.clone())
    }

    /// Reads an `Initialize`; `None` if the message is of another kind.
    #[must_use]
    pub fn read(message: &Message) -> Option<Self> {
        let [_, _, v0, v1] = message.parameter.to_be_bytes();
        (message.kind == Kind::Initialize).then(|| Self {
            version: Version::from_upper(message.parameter),
            vendor: [v0, v1],
            sub_address: message.payload.clone(),
        })
    }
}

/// What the server answers, in `InitializeResponse`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Welcome {
    /// The version that is spoken.
    pub version: Version,
    /// Which session this is; the second connection names it.
    pub session: u16,
    /// Whether the server would rather send answers without regard to what is asked meanwhile.
    pub overlapped: bool,
}

impl Welcome {
    /// The message.
    #[must_use]
    pub fn message(self) -> Message {
        let control = if self.overlapped { OVERLAPPED } else { 0 };
        Message::bare(Kind::InitializeResponse, control, self.version.to_upper() | u32::from(self.session))
    }

    /// Reads an `InitializeResponse`; `None` if the message is of another kind.
    #[must_use]
    pub fn read(message: &Message) -> Option<Self> {
        let [_, _, s0, s1] = message.parameter.to_be_bytes();
        (message.kind == Kind::InitializeResponse).then(|| Self {
            version: Version::from_upper(message.parameter),
            session: u16::from_be_bytes([s0, s1]),
            overlapped: message.control & OVERLAPPED != 0,
        })
    }
}

/// An `AsyncMaximumMessageSize` or its response: the most bytes of a payload that the sender takes.
#[must_use]
pub fn size(kind: Kind, bytes: u64) -> Message {
    Message::new(kind, 0, 0, Bytes::copy_from_slice(&bytes.to_be_bytes()))
}

/// The bytes that such a message names; `None` if its payload is not a number of 8 bytes.
#[must_use]
pub fn read_size(message: &Message) -> Option<u64> {
    <[u8; 8]>::try_from(&message.payload[..]).ok().map(u64::from_be_bytes)
}
