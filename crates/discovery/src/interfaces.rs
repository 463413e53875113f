//! Which interfaces of this machine are listened and spoken on.

use std::net::{IpAddr, UdpSocket};

use mdns_sd::{IfKind, IfPredicate, ServiceDaemon};

use crate::error::DiscoveryError;

/// Multicast DNS with its thread, which ends when this is dropped. Nobody holds the thread otherwise: without being
/// told it would go on for ever.
pub(crate) struct Daemon(pub(crate) ServiceDaemon);

impl Drop for Daemon {
    fn drop(&mut self) {
        // Ending says good-bye for every service; that it cannot be said any more changes nothing.
        drop(self.0.shutdown());
    }
}

/// Multicast DNS on the interfaces that have these addresses; on all of them if there are none.
pub(crate) fn daemon_on(addresses: &[IpAddr]) -> Result<Daemon, DiscoveryError> {
    for address in addresses {
        // Only an address of this machine can be bound to.
        UdpSocket::bind((*address, 0))
            .map_err(|source| DiscoveryError::Interface { address: *address, source })?;
    }
    let daemon = Daemon(ServiceDaemon::new()?);
    if !addresses.is_empty() {
        let wanted = addresses.to_vec();
        let others = IfPredicate::new(move |interface| !wanted.contains(&interface.ip()));
        daemon.0.disable_interface(IfKind::Predicate(others))?;
    }
    Ok(daemon)
}
