//! Where an instrument answers, in the resource syntax of VPP-4.3.

use std::fmt;
use std::net::{Ipv6Addr, SocketAddr};
use std::str::FromStr;

use spurline_wire::hislip;
use thiserror::Error;

/// An address.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Address {
    /// `TCPIP::host::port::SOCKET`: a raw TCP connection.
    Socket {
        /// Name or number of the host; a number of IPv6 without brackets, one of a single link with the name of that
        /// link behind `%`.
        host: String,
        /// TCP port.
        port: u16,
    },
    /// `ASRL/dev/…::INSTR`: a serial port.
    Serial {
        /// The device's path.
        device: String,
    },
    /// `TCPIP::host::hislip0::INSTR`: HiSLIP. A port other than 4880 stands behind the name: `hislip0,4881`.
    Hislip {
        /// Name or number of the host.
        host: String,
        /// TCP port.
        port: u16,
        /// Which device behind the host, such as `hislip0`.
        sub_address: String,
    },
    /// `TCPIP::host::inst0::INSTR`, or without `inst0`: VXI-11.
    Vxi11 {
        /// Name or number of the host.
        host: String,
        /// The port of the core channel, written `TCPIP::host,7011::…`; `None`: the host's portmapper is asked.
        port: Option<u16>,
        /// Which device behind the host, such as `inst0` or `gpib0,5`.
        device: String,
    },
}

/// Why a text is not an address; the second line is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum AddressError {
    /// It has none of the known forms.
    #[error(
        "expected an instrument's address, found `{0}`\nwrite `TCPIP::192.0.2.20::5025::SOCKET`, \
         `TCPIP::192.0.2.20::hislip0::INSTR`, `TCPIP::192.0.2.20::inst0::INSTR` or \
         `ASRL/dev/serial/by-id/…::INSTR`"
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
        let (interface, rest) = text.split_once("::").ok_or_else(unknown)?;
        if text.contains(|c: char| c.is_control()) {
            return Err(unknown());
        }
        let upper = interface.to_ascii_uppercase();
        if is_board(&upper, "TCPIP") {
            let (host, rest) = host(rest).ok_or_else(unknown)?;
            return on_network(host, rest)?.ok_or_else(unknown);
        }
        match interface.get(4..) {
            Some(device)
                if upper.starts_with("ASRL")
                    && device.starts_with('/')
                    && rest.eq_ignore_ascii_case("INSTR") =>
            {
                Ok(Self::Serial { device: device.to_owned() })
            }
            _ => Err(unknown()),
        }
    }
}

/// `TCPIP` and `TCPIP0` mean the same; the number is that of an interface board.
fn is_board(text: &str, kind: &str) -> bool {
    text.strip_prefix(kind).is_some_and(|number| number.bytes().all(|b| b.is_ascii_digit()))
}

/// The host, a port behind a comma, and what follows `::`. A number of IPv6 has colons of its own and brackets.
fn host(text: &str) -> Option<((&str, Option<&str>), &str)> {
    let (host, rest) = match text.strip_prefix('[') {
        Some(inner) => {
            let (number, rest) = inner.split_once(']')?;
            is_ipv6(number).then_some((number, rest))?
        }
        None => {
            let end = text.find("::").unwrap_or(text.len());
            let (host, rest) = text.split_at(end);
            match host.split_once(',') {
                Some((host, _)) => (host, &text[host.len()..]),
                None => (host, rest),
            }
        }
    };
    let (port, rest) = rest.split_once("::")?;
    let port = match port.strip_prefix(',') {
        None if port.is_empty() => None,
        None => return None,
        Some(port) => Some(port),
    };
    let numbered = text.starts_with('[');
    let whole = !host.is_empty() && (numbered || !host.contains([':', ' ', '/', '[', ']']));
    whole.then_some(((host, port), rest))
}

/// A number of IPv6; behind `%` one of a single link may have that link's name, an interface of this machine
/// (RFC 4007 clause 11).
fn is_ipv6(text: &str) -> bool {
    let (number, zone) = match text.split_once('%') {
        Some((number, zone)) => (number, Some(zone)),
        None => (text, None),
    };
    let named =
        |zone: &str| !zone.is_empty() && !zone.contains(|c: char| c.is_whitespace() || "%[/".contains(c));
    number
        .parse::<Ipv6Addr>()
        .is_ok_and(|number| zone.is_none_or(|zone| number.is_unicast_link_local() && named(zone)))
}

fn on_network((host, core): (&str, Option<&str>), rest: &str) -> Result<Option<Address>, AddressError> {
    let host = host.to_owned();
    let core = core.map(port).transpose()?;
    let parts: Vec<&str> = rest.split("::").collect();
    let (class, name) = match parts[..] {
        [class] => (class, None),
        [name, class] => (class, Some(name)),
        _ => return Ok(None),
    };
    let name_is = |kind| name.and_then(|name| devices(name, kind));
    Ok(if class.eq_ignore_ascii_case("SOCKET") {
        match (name, core) {
            (Some(number), None) => Some(Address::Socket { host, port: port(number)? }),
            _ => None,
        }
    } else if !class.eq_ignore_ascii_case("INSTR") {
        None
    } else if let Some((sub_address, own_port)) = name_is("hislip") {
        let port = own_port.map(port).transpose()?.unwrap_or(hislip::PORT);
        core.is_none().then_some(Address::Hislip { host, port, sub_address })
    } else {
        let device = match (name, name_is("inst")) {
            (None, _) => "inst0".to_owned(),
            (_, Some((device, None))) => device,
            (Some(name), _) => name.to_owned(),
        };
        let named = !device.is_empty() && !device.contains(' ');
        named.then_some(Address::Vxi11 { host, port: core, device })
    })
}

/// A name such as `hislip0`, in small letters, and what stands behind a comma.
fn devices<'t>(name: &'t str, kind: &str) -> Option<(String, Option<&'t str>)> {
    let (name, behind) = match name.split_once(',') {
        Some((name, behind)) => (name, Some(behind)),
        None => (name, None),
    };
    let lower = name.to_ascii_lowercase();
    let number = lower.strip_prefix(kind)?;
    let numbered = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
    numbered.then_some((lower, behind))
}

fn port(text: &str) -> Result<u16, AddressError> {
    let number = text.parse::<u16>().ok().filter(|port| *port != 0);
    number.ok_or_else(|| AddressError::Port(text.to_owned()))
}

impl From<SocketAddr> for Address {
    fn from(address: SocketAddr) -> Self {
        Self::Socket { host: address.ip().to_string(), port: address.port() }
    }
}

/// A host as an address has it: a number of IPv6 in brackets.
pub(crate) struct Host<'h>(pub(crate) &'h str);

impl fmt::Display for Host<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.contains(':') { write!(f, "[{}]", self.0) } else { f.write_str(self.0) }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Socket { host, port } => write!(f, "TCPIP::{}::{port}::SOCKET", Host(host)),
            Self::Serial { device } => write!(f, "ASRL{device}::INSTR"),
            Self::Hislip { host, port: hislip::PORT, sub_address } => {
                write!(f, "TCPIP::{}::{sub_address}::INSTR", Host(host))
            }
            Self::Hislip { host, port, sub_address } => {
                write!(f, "TCPIP::{}::{sub_address},{port}::INSTR", Host(host))
            }
            Self::Vxi11 { host, port: None, device } => write!(f, "TCPIP::{}::{device}::INSTR", Host(host)),
            Self::Vxi11 { host, port: Some(port), device } => {
                write!(f, "TCPIP::{},{port}::{device}::INSTR", Host(host))
            }
        }
    }
}

#[cfg(test)]
mod tests;
