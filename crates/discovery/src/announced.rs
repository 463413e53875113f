//! One service of one instrument, from the records that announce it.

use std::collections::BTreeSet;

use mdns_sd::{ResolvedService, ScopedIp};

use crate::harmless::harmless;
use crate::service::{Host, Service};

/// What the network says about one service, as it says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Records {
    /// Under which service.
    pub service: Service,
    /// The whole name: that of the instance before that of the service.
    pub name: String,
    /// The name of the host, from the SRV record.
    pub host: String,
    /// The port, from the SRV record.
    pub port: u16,
    /// The addresses of the host.
    pub addresses: Vec<Host>,
    /// Keys and values of the TXT record.
    pub texts: Vec<(String, Vec<u8>)>,
}

/// A service of an instrument, fit to be shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Announced {
    /// Which service.
    pub service: Service,
    /// What it calls itself.
    pub name: String,
    /// The address that a bench file takes; of a web page, its URL.
    pub address: String,
    /// The same for the other addresses of its host, best first.
    pub others: Vec<String>,
    /// The name of its host.
    pub host: String,
    /// Maker, empty if it does not say.
    pub maker: String,
    /// Model, empty if it does not say.
    pub model: String,
    /// Serial number, empty if it does not say.
    pub serial: String,
    /// Firmware version, empty if it does not say.
    pub firmware: String,
}

/// The most addresses of one host that are looked at.
const MOST_ADDRESSES: usize = 8;

impl Records {
    pub(crate) fn of(service: Service, resolved: &ResolvedService) -> Self {
        Self {
            service,
            name: resolved.fullname.clone(),
            host: resolved.host.clone(),
            port: resolved.port,
            addresses: resolved.addresses.iter().map(host).collect(),
            texts: resolved
                .txt_properties
                .iter()
                .map(|text| (text.key().to_owned(), text.val().unwrap_or_default().to_vec()))
                .collect(),
        }
    }

    /// What of it can be used and shown; `None` without an address or a port.
    #[must_use]
    pub fn read(&self) -> Option<Announced> {
        let usable = self.addresses.iter().filter(|host| host.can_be_written());
        let mut hosts: Vec<&Host> = usable.collect::<BTreeSet<_>>().into_iter().collect();
        hosts.sort_by_key(|host| host.rank());
        let mut addresses =
            hosts.into_iter().take(MOST_ADDRESSES).map(|host| self.service.address(host, self.port));
        let address = addresses.next().filter(|_| self.port != 0)?;
        Some(Announced {
            service: self.service,
            name: self.instance(),
            address,
            others: addresses.collect(),
            host: harmless(self.host.trim_end_matches('.').as_bytes()),
            maker: self.text("Manufacturer"),
            model: self.text("Model"),
            serial: self.text("SerialNumber"),
            firmware: self.text("FirmwareVersion"),
        })
    }

    /// The instance's own name: what stands before the service, without the backslashes of RFC 6763, clause 4.3.
    fn instance(&self) -> String {
        let own = self.name.strip_suffix(self.service.dns_type()).unwrap_or(&self.name);
        let own = own.strip_suffix('.').unwrap_or(own);
        harmless(own.replace("\\.", ".").replace("\\\\", "\\").as_bytes())
    }

    /// A value of the TXT record. RFC 6763, clause 6.4: case does not matter, and the first of a key counts.
    fn text(&self, key: &str) -> String {
        let found = self.texts.iter().find(|(known, _)| known.eq_ignore_ascii_case(key));
        found.map_or_else(String::new, |(_, value)| harmless(value))
    }
}

fn host(address: &ScopedIp) -> Host {
    let number = address.to_ip_addr();
    let interface = match address {
        ScopedIp::V6(scoped) if scoped.addr().is_unicast_link_local() => Some(scoped.scope_id().name.clone()),
        _ => None,
    };
    Host { address: number, interface }
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use super::*;

    fn records() -> Records {
        let text = |key: &str, value: &str| (key.to_owned(), value.as_bytes().to_vec());
        Records {
            service: Service::Hislip,
            name: "Swept Analyser A\\.1._hislip._tcp.local.".to_owned(),
            host: "analyser-1.local.".to_owned(),
            port: 4880,
            addresses: vec![
                IpAddr::from([169, 254, 3, 4]).into(),
                "2001:db8::20".parse::<IpAddr>().unwrap().into(),
                IpAddr::from([192, 0, 2, 20]).into(),
                IpAddr::from([192, 0, 2, 20]).into(),
            ],
            // The keys of the trade's announcements: common practice.
            texts: vec![
                text("txtvers", "1"),
                text("manufacturer", "Example Instruments"),
                text("Model", "Swept Analyser"),
                text("SerialNumber", "A-0001"),
                text("SerialNumber", "second"),
                text("FirmwareVersion", "2.1"),
            ],
        }
    }

    #[test]
    fn records_become_an_address_and_an_identity() {
        let found = records().read().unwrap();
        assert_eq!(found.address, "TCPIP::192.0.2.20::hislip0::INSTR");
        assert_eq!(
            found.others,
            ["TCPIP::169.254.3.4::hislip0::INSTR", "TCPIP::[2001:db8::20]::hislip0::INSTR"]
        );
        assert_eq!((found.name.as_str(), found.host.as_str()), ("Swept Analyser A.1", "analyser-1.local"));
        let identity = [found.maker, found.model, found.serial, found.firmware];
        assert_eq!(identity, ["Example Instruments", "Swept Analyser", "A-0001", "2.1"]);
    }

    #[test]
    fn hostile_records_are_harmless() {
        let mut hostile = records();
        hostile.name = "\u{1b}]0;owned\u{7}".to_owned();
        hostile.texts = vec![("Model".to_owned(), vec![0x1b; 60_000])];
        hostile.addresses = (0..=255).map(|last| IpAddr::from([192, 0, 2, last]).into()).collect();
        let found = hostile.read().unwrap();
        assert_eq!(found.name, r"\u{1b}]0;owned\u{7}");
        assert!(found.model.len() < 500 && !found.model.contains('\u{1b}'));
        assert_eq!(found.others.len(), MOST_ADDRESSES - 1);
    }

    #[test]
    fn without_address_or_port_there_is_nothing_to_use() {
        assert_eq!(Records { port: 0, ..records() }.read(), None);
        assert_eq!(Records { addresses: Vec::new(), ..records() }.read(), None);
    }
}
