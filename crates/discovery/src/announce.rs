//! Announcing instruments of this machine, as a real one announces itself.

use std::net::IpAddr;

use mdns_sd::ServiceInfo;

use crate::error::DiscoveryError;
use crate::interfaces::{Daemon, daemon_on};
use crate::service::Service;

/// What is announced of one instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Announcement<'a> {
    /// How it is reached.
    pub service: Service,
    /// What it calls itself.
    pub name: &'a str,
    /// The name of its host, without the domain.
    pub host: &'a str,
    /// Where it is reached.
    pub address: IpAddr,
    /// At which port.
    pub port: u16,
    /// Maker.
    pub maker: &'a str,
    /// Model.
    pub model: &'a str,
    /// Serial number.
    pub serial: &'a str,
    /// Firmware version.
    pub firmware: &'a str,
}

/// Announcements that are kept up; taken back when dropped.
pub struct Announcing {
    daemon: Daemon,
}

impl std::fmt::Debug for Announcing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Announcing").finish_non_exhaustive()
    }
}

/// Announces instruments on the interfaces that have their addresses, and on no others.
///
/// # Errors
///
/// [`DiscoveryError`].
pub fn announce(instruments: &[Announcement<'_>]) -> Result<Announcing, DiscoveryError> {
    let on: Vec<IpAddr> = instruments.iter().map(|instrument| instrument.address).collect();
    let announcing = Announcing { daemon: daemon_on(&on)? };
    for instrument in instruments {
        let texts = [
            ("txtvers", "1"),
            ("Manufacturer", instrument.maker),
            ("Model", instrument.model),
            ("SerialNumber", instrument.serial),
            ("FirmwareVersion", instrument.firmware),
        ];
        announcing.daemon.0.register(ServiceInfo::new(
            instrument.service.dns_type(),
            instrument.name,
            &format!("{}.local.", instrument.host),
            instrument.address,
            instrument.port,
            &texts[..],
        )?)?;
    }
    Ok(announcing)
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use spurline_clock::{Pace, run};

    use super::*;
    use crate::listen::listen;

    /// On the loopback interface alone: nothing goes out to the network.
    #[test]
    fn what_is_announced_is_heard() {
        let here = IpAddr::from([127, 0, 0, 1]);
        let name = format!("Analyser of process {}", std::process::id());
        let announcement = Announcement {
            service: Service::Socket,
            name: &name,
            host: "bench-here",
            address: here,
            port: 15_025,
            maker: "Example Instruments",
            model: "Swept Analyser",
            serial: "A-0001",
            firmware: "2.1",
        };
        let announcing = announce(&[announcement]).unwrap();
        let heard =
            run(
                Pace::Real,
                |clock| async move { listen(Duration::from_secs(3), &[here], clock).await.unwrap() },
            )
            .unwrap();
        drop(announcing);
        let ours = heard.services.iter().find(|found| found.name == name).unwrap();
        assert_eq!(ours.address, "TCPIP::127.0.0.1::15025::SOCKET");
        assert_eq!((ours.model.as_str(), ours.serial.as_str()), ("Swept Analyser", "A-0001"));
    }

    #[test]
    fn an_address_of_another_machine_is_refused() {
        let elsewhere = IpAddr::from([192, 0, 2, 200]);
        let refused = run(Pace::Real, |clock| async move {
            listen(Duration::from_millis(1), &[elsewhere], clock).await.unwrap_err()
        })
        .unwrap();
        assert!(matches!(refused, DiscoveryError::Interface { address, .. } if address == elsewhere));
    }
}
