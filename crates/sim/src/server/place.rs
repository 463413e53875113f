//! Where an instrument can be reached, and by which kind of link.

use std::fmt;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// A place of this machine, and the kind of link that is served there. Port 0 stands for any free port.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// Messages in a raw stream of TCP, ended by a new line.
    Socket {
        /// Address and port.
        at: SocketAddr,
    },
    /// HiSLIP (IVI-6.1).
    Hislip {
        /// Address and port.
        at: SocketAddr,
        /// The sub-address that a client must name, such as `hislip0`.
        device: String,
    },
    /// VXI-11.
    Vxi11 {
        /// Address and port of the core channel.
        at: SocketAddr,
        /// The device that a client must name, such as `inst0`.
        device: String,
    },
    /// A serial line: a pseudo-terminal behind a symbolic link.
    Serial {
        /// Where the link is made; `None` for a folder of its own.
        path: Option<PathBuf>,
    },
}

/// Any free port of this machine.
const ANY: SocketAddr = SocketAddr::new(std::net::IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

impl Place {
    /// A raw stream on any free port of this machine.
    #[must_use]
    pub const fn any_socket() -> Self {
        Self::Socket { at: ANY }
    }

    /// Any free place of this machine for the same kind of link.
    #[must_use]
    pub fn anywhere(&self) -> Self {
        let mut place = self.clone();
        match &mut place {
            Self::Socket { at } | Self::Hislip { at, .. } | Self::Vxi11 { at, .. } => *at = ANY,
            Self::Serial { path } => *path = None,
        }
        place
    }

    /// Its address and port, if it has them.
    #[must_use]
    pub const fn socket(&self) -> Option<SocketAddr> {
        match self {
            Self::Socket { at } | Self::Hislip { at, .. } | Self::Vxi11 { at, .. } => Some(*at),
            Self::Serial { .. } => None,
        }
    }

    /// The same place at the address and port that were really had.
    pub(crate) fn bound(&self, address: SocketAddr) -> Self {
        let mut place = self.clone();
        match &mut place {
            Self::Socket { at } | Self::Hislip { at, .. } | Self::Vxi11 { at, .. } => *at = address,
            Self::Serial { .. } => {}
        }
        place
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Socket { at } | Self::Hislip { at, .. } | Self::Vxi11 { at, .. } => write!(f, "{at}"),
            Self::Serial { path: Some(path) } => write!(f, "{}", path.display()),
            Self::Serial { path: None } => write!(f, "a serial line of its own"),
        }
    }
}
