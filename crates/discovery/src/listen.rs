//! Asking the network for instruments, and listening for a while.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::time::Duration;

use mdns_sd::ServiceEvent;
use spurline_clock::Clock;

use crate::announced::{Announced, Records};
use crate::error::DiscoveryError;
use crate::interfaces::daemon_on;
use crate::service::Service;

/// The most services that are kept: a flood of announcements must not fill memory or screen.
pub const MOST: usize = 256;

/// What was heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// Services, sorted by host and kind.
    pub services: Vec<Announced>,
    /// Whether more were announced than are kept.
    pub more: bool,
}

/// How often what has come is collected, well before the queue of events is full.
const COLLECT_EVERY: Duration = Duration::from_millis(20);

/// Asks for instruments and listens for `span`, on the interfaces with the addresses `on`, or on all of them.
///
/// # Errors
///
/// [`DiscoveryError`]; that nobody answers is none.
pub async fn listen(span: Duration, on: &[IpAddr], clock: Clock) -> Result<Heard, DiscoveryError> {
    let daemon = daemon_on(on)?;
    let mut events = Vec::new();
    for service in Service::ALL {
        events.push((service, daemon.0.browse(service.dns_type())?));
    }
    let mut collected = Collected::default();
    let end = clock.now().after(span);
    while clock.now() < end {
        clock.sleep(COLLECT_EVERY).await;
        for (service, events) in &events {
            for event in events.try_iter() {
                collected.take(*service, &event);
            }
        }
    }
    Ok(collected.heard())
}

#[derive(Debug, Default)]
struct Collected {
    services: BTreeMap<(Service, String), Announced>,
    more: bool,
}

impl Collected {
    fn take(&mut self, service: Service, event: &ServiceEvent) {
        match event {
            ServiceEvent::ServiceResolved(resolved) => self.keep(&Records::of(service, resolved)),
            ServiceEvent::ServiceRemoved(_, name) => {
                self.services.remove(&(service, name.to_lowercase()));
            }
            _ => {}
        }
    }

    /// What comes later about a service counts.
    fn keep(&mut self, records: &Records) {
        let key = (records.service, records.name.to_lowercase());
        if self.services.len() >= MOST && !self.services.contains_key(&key) {
            self.more = true;
            return;
        }
        self.services.extend(records.read().map(|found| (key, found)));
    }

    fn heard(self) -> Heard {
        let mut services: Vec<Announced> = self.services.into_values().collect();
        services.sort_by(|one, other| {
            (&one.host, one.service, &one.name).cmp(&(&other.host, other.service, &other.name))
        });
        Heard { services, more: self.more }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn records(number: usize) -> Records {
        Records {
            service: Service::Socket,
            name: format!("Number {number}._scpi-raw._tcp.local."),
            host: "flood.local.".to_owned(),
            port: 5025,
            addresses: vec![IpAddr::from([192, 0, 2, 1]).into()],
            texts: Vec::new(),
        }
    }

    #[test]
    fn a_flood_is_bounded_and_said() {
        let mut collected = Collected::default();
        (0..MOST).for_each(|number| collected.keep(&records(number)));
        assert!(!collected.more);
        // The same again is no further one.
        collected.keep(&records(3));
        assert!(!collected.more);
        (0..10 * MOST).for_each(|number| collected.keep(&records(number)));
        let heard = collected.heard();
        assert!(heard.more);
        assert_eq!(heard.services.len(), MOST);
    }

    #[test]
    fn what_is_taken_back_is_gone() {
        let mut collected = Collected::default();
        collected.keep(&records(1));
        collected.take(
            Service::Socket,
            &ServiceEvent::ServiceRemoved(String::new(), "NUMBER 1._scpi-raw._tcp.local.".to_owned()),
        );
        assert_eq!(collected.heard(), Heard::default());
    }
}
