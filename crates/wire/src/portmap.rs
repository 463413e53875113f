//! The portmapper (RFC 1833 clause 3): which port a program listens on. Only the one question is here.

use bytes::Bytes;

use crate::xdr::{Reader, Writer, XdrError};

/// The port of the portmapper itself.
pub const PORT: u16 = 111;
/// Its program.
pub const PROGRAM: u32 = 100_000;
/// Its version.
pub const VERSION: u32 = 2;
/// The procedure that looks up a port.
pub const GETPORT: u32 = 3;
/// The protocol number of TCP.
pub const TCP: u32 = 6;

/// What is looked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mapping {
    /// The program.
    pub program: u32,
    /// Its version.
    pub version: u32,
    /// [`TCP`], or 17 for UDP.
    pub protocol: u32,
    /// Not looked at in a question.
    pub port: u32,
}

impl Mapping {
    /// The question for a program over TCP.
    #[must_use]
    pub const fn tcp(program: u32, version: u32) -> Self {
        Self { program, version, protocol: TCP, port: 0 }
    }

    /// As arguments.
    #[must_use]
    pub fn encode(self) -> Bytes {
        Writer::new().u32(self.program).u32(self.version).u32(self.protocol).u32(self.port).bytes()
    }

    /// Reads arguments.
    ///
    /// # Errors
    ///
    /// When they are something else.
    pub fn decode(arguments: Bytes) -> Result<Self, XdrError> {
        let mut items = Reader::new(arguments);
        let mapping =
            Self { program: items.u32()?, version: items.u32()?, protocol: items.u32()?, port: items.u32()? };
        items.end()?;
        Ok(mapping)
    }
}

/// The answer as results; `None`: the program is not there.
#[must_use]
pub fn encode_port(port: Option<u16>) -> Bytes {
    Writer::new().u32(port.map_or(0, u32::from)).bytes()
}

/// Reads the answer; `None` if the program is not there, or the number is none of a port.
///
/// # Errors
///
/// When the results are something else.
pub fn decode_port(results: Bytes) -> Result<Option<u16>, XdrError> {
    let mut items = Reader::new(results);
    let port = items.u32()?;
    items.end()?;
    Ok(u16::try_from(port).ok().filter(|port| *port != 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 1833 clause 3.1: program, version, protocol, port.
    #[test]
    fn the_question_has_the_bytes_of_the_standard() {
        let mapping = Mapping::tcp(0x0607af, 1);
        let bytes = mapping.encode();
        assert_eq!(&bytes[..], b"\0\x06\x07\xaf\0\0\0\x01\0\0\0\x06\0\0\0\0");
        assert_eq!(Mapping::decode(bytes), Ok(mapping));
        assert_eq!(Mapping::decode(Bytes::new()), Err(XdrError::Short { expected: 4, found: 0 }));
    }

    #[test]
    fn a_port_of_zero_is_none() {
        assert_eq!(decode_port(encode_port(Some(1024))), Ok(Some(1024)));
        assert_eq!(decode_port(encode_port(None)), Ok(None));
        assert_eq!(decode_port(Bytes::from_static(b"\0\x01\0\0")), Ok(None));
    }
}
