//! The services under which instruments announce themselves.

use std::fmt;
use std::net::IpAddr;

use spurline_wire::{hislip, portmap};

/// What an instrument offers at a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Service {
    /// SCPI on a raw TCP connection.
    Socket,
    /// HiSLIP (IVI-6.1).
    Hislip,
    /// VXI-11.
    Vxi11,
    /// The instrument's own web page, which is no way to measure.
    Web,
}

const WEB_PORT: u16 = 80;

impl Service {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Socket, Self::Hislip, Self::Vxi11, Self::Web];

    /// The type under which it is announced.
    #[must_use]
    pub const fn dns_type(self) -> &'static str {
        match self {
            Self::Socket => "_scpi-raw._tcp.local.",
            Self::Hislip => "_hislip._tcp.local.",
            Self::Vxi11 => "_vxi-11._tcp.local.",
            Self::Web => "_lxi._tcp.local.",
        }
    }

    /// The address that a bench file takes, in the resource syntax of VPP-4.3; of the web page, its URL.
    #[must_use]
    pub fn address(self, host: &Host, port: u16) -> String {
        match (self, port) {
            (Self::Socket, port) => format!("TCPIP::{host}::{port}::SOCKET"),
            (Self::Hislip, hislip::PORT) => format!("TCPIP::{host}::hislip0::INSTR"),
            (Self::Hislip, port) => format!("TCPIP::{host}::hislip0,{port}::INSTR"),
            (Self::Vxi11, portmap::PORT) => format!("TCPIP::{host}::inst0::INSTR"),
            // Clients write a core channel that no port mapper knows behind the host.
            (Self::Vxi11, port) => format!("TCPIP::{host},{port}::inst0::INSTR"),
            (Self::Web, WEB_PORT) => format!("http://{host}/"),
            (Self::Web, port) => format!("http://{host}:{port}/"),
        }
    }
}

impl fmt::Display for Service {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Socket => "socket",
            Self::Hislip => "HiSLIP",
            Self::Vxi11 => "VXI-11",
            Self::Web => "web page",
        })
    }
}

/// A host by number; an IPv6 address that holds on one link only has the link's name with it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Host {
    /// The number.
    pub address: IpAddr,
    /// The name of this machine's interface, where the number means nothing without it.
    pub interface: Option<String>,
}

impl Host {
    /// Whether an address can hold it: not every name of an interface can stand between brackets.
    pub(crate) fn can_be_written(&self) -> bool {
        let unfit = |c: char| c.is_whitespace() || c.is_control() || "%[]/".contains(c);
        self.interface.as_ref().is_none_or(|name| !name.is_empty() && !name.contains(unfit))
    }

    /// How good it is as an address to be written into a file: the lowest is the best.
    pub(crate) fn rank(&self) -> u8 {
        match self.address {
            IpAddr::V4(number) if number.is_link_local() => 1,
            IpAddr::V4(_) => 0,
            IpAddr::V6(_) if self.interface.is_some() => 3,
            IpAddr::V6(_) => 2,
        }
    }
}

impl From<IpAddr> for Host {
    fn from(address: IpAddr) -> Self {
        Self { address, interface: None }
    }
}

impl fmt::Display for Host {
    /// IPv6 in brackets: its colons would be taken for those of the resource syntax.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.address, &self.interface) {
            (IpAddr::V4(number), _) => write!(f, "{number}"),
            (IpAddr::V6(number), None) => write!(f, "[{number}]"),
            (IpAddr::V6(number), Some(interface)) => write!(f, "[{number}%{interface}]"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forms: VPP-4.3 (`TCPIP::host::port::SOCKET`, `TCPIP::host::device::INSTR`); a port behind the sub-address or the
    /// host is common practice of clients. Addresses: RFC 5737 and RFC 3849.
    #[test]
    fn addresses_as_a_bench_file_takes_them() {
        let host = Host::from(IpAddr::from([192, 0, 2, 20]));
        for (service, port, address) in [
            (Service::Socket, 5025, "TCPIP::192.0.2.20::5025::SOCKET"),
            (Service::Socket, 5555, "TCPIP::192.0.2.20::5555::SOCKET"),
            (Service::Hislip, 4880, "TCPIP::192.0.2.20::hislip0::INSTR"),
            (Service::Hislip, 4881, "TCPIP::192.0.2.20::hislip0,4881::INSTR"),
            (Service::Vxi11, 111, "TCPIP::192.0.2.20::inst0::INSTR"),
            (Service::Vxi11, 7011, "TCPIP::192.0.2.20,7011::inst0::INSTR"),
            (Service::Web, 80, "http://192.0.2.20/"),
            (Service::Web, 8080, "http://192.0.2.20:8080/"),
        ] {
            assert_eq!(service.address(&host, port), address);
        }
        let host = Host::from("2001:db8::20".parse::<IpAddr>().unwrap());
        assert_eq!(Service::Socket.address(&host, 5025), "TCPIP::[2001:db8::20]::5025::SOCKET");
    }
}
