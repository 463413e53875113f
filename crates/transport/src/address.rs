//! Where an instrument answers, in the resource syntax of VPP-4.3.

use std::fmt;
use std::net::SocketAddr;
use std::str::FromStr;

use thiserror::Error;

/// An address.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Address {
    /// `TCPIP::host::port::SOCKET`: a raw TCP connection.
    Socket {
        /// Name or number of the host.
        host: String,
        /// TCP port.
        port: u16,
    },
    /// `ASRL/dev/…::INSTR`: a serial port.
    Serial {
        /// The device's path.
        device: String,
    },
}

/// Why a text is not an address; the second line is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum AddressError {
    /// It has none of the known forms.
    #[error(
        "expected an instrument's address, found `{0}`\nwrite `TCPIP::192.0.2.20::5025::SOCKET` or `ASRL/dev/serial/by-id/…::INSTR`"
    )]
    Unknown(String),
    /// The port is not a number that a port can have.
    #[error("expected a TCP port from 1 to 65535, found `{0}`\nwrite `TCPIP::host::5025::SOCKET`")]
    Port(String),
}

impl FromStr for Address {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, AddressError> {
        let unknown = || AddressError::Unknown(text.to_owned());
        let parts: Vec<&str> = text.split("::").collect();
        let (first, rest) = parts.split_first().ok_or_else(unknown)?;
        let upper = first.to_ascii_uppercase();
        match rest {
            [host, port, class] if is_board(&upper, "TCPIP") && class.eq_ignore_ascii_case("SOCKET") => {
                if host.is_empty() {
                    return Err(unknown());
                }
                let number = port.parse::<u16>().ok().filter(|port| *port != 0);
                let port = number.ok_or_else(|| AddressError::Port((*port).to_owned()))?;
                Ok(Self::Socket { host: (*host).to_owned(), port })
            }
            [class] if upper.starts_with("ASRL") && class.eq_ignore_ascii_case("INSTR") => {
                let device = &first[4..];
                if device.starts_with('/') {
                    Ok(Self::Serial { device: device.to_owned() })
                } else {
                    Err(unknown())
                }
            }
            _ => Err(unknown()),
        }
    }
}

/// `TCPIP` and `TCPIP0` mean the same; the number is that of an interface board.
fn is_board(text: &str, kind: &str) -> bool {
    text.strip_prefix(kind).is_some_and(|number| number.bytes().all(|b| b.is_ascii_digit()))
}

impl From<SocketAddr> for Address {
    fn from(address: SocketAddr) -> Self {
        Self::Socket { host: address.ip().to_string(), port: address.port() }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Socket { host, port } => write!(f, "TCPIP::{host}::{port}::SOCKET"),
            Self::Serial { device } => write!(f, "ASRL{device}::INSTR"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_read_and_print() {
        for (text, printed) in [
            ("TCPIP::192.0.2.20::5025::SOCKET", "TCPIP::192.0.2.20::5025::SOCKET"),
            ("tcpip0::bench-3::5025::socket", "TCPIP::bench-3::5025::SOCKET"),
            ("ASRL/dev/serial/by-id/usb-1::INSTR", "ASRL/dev/serial/by-id/usb-1::INSTR"),
        ] {
            assert_eq!(text.parse::<Address>().unwrap().to_string(), printed);
        }
    }

    #[test]
    fn slips_are_named() {
        assert!(matches!("TCPIP::h::0::SOCKET".parse::<Address>(), Err(AddressError::Port(_))));
        for text in ["", "192.0.2.20", "TCPIP::::5025::SOCKET", "ASRL3::INSTR", "TCPIP::h::5025"] {
            assert!(matches!(text.parse::<Address>(), Err(AddressError::Unknown(_))), "{text}");
        }
    }
}
