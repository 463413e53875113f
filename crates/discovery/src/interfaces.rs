//! Which interfaces of this machine are listened and spoken on.

use std::net::{IpAddr, UdpSocket};

use mdns_sd::{IfKind, IfPredicate, ServiceDaemon};

use crate::error::DiscoveryError;

/// Multicast DNS on the interfaces that have these addresses; on all of them if there are none.
pub(crate) fn daemon_on(addresses: &[IpAddr]) -> Result<ServiceDaemon, DiscoveryError> {
    for address in addresses {
        // Only an address of this machine can be bound to.
        UdpSocket::bind((*address, 0))
            .map_err(|source| DiscoveryError::Interface { address: *address, source })?;
    }
    let daemon = ServiceDaemon::new()?;
    if !addresses.is_empty() {
        let wanted = addresses.to_vec();
        let others = IfPredicate::new(move |interface| !wanted.contains(&interface.ip()));
        daemon.disable_interface(IfKind::Predicate(others))?;
    }
    Ok(daemon)
}
