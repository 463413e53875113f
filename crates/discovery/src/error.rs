//! What can go wrong before anything is heard.

use std::io;
use std::net::IpAddr;

use thiserror::Error;

/// Why nothing can be heard or announced.
#[derive(Debug, Error)]
pub enum DiscoveryError {
    /// No interface of this machine has the address.
    #[error("expected an address of this machine, found {address}")]
    Interface {
        /// The address.
        address: IpAddr,
        /// What the system says to it.
        #[source]
        source: io::Error,
    },
    /// Multicast DNS does not work here.
    #[error("multicast DNS cannot be used")]
    Multicast(#[from] mdns_sd::Error),
}

impl DiscoveryError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Interface { .. } => "name an interface by one of this machine's own addresses",
            Self::Multicast(_) => {
                "is UDP port 5353 allowed to this program? Instruments can be named by their address too"
            }
        }
    }
}
