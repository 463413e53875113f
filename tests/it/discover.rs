//! `discover` and instruments that are announced on the loopback interface; nothing of it goes out to the network.

use std::net::IpAddr;

use mdns_sd::{IfKind, IfPredicate, ServiceDaemon, ServiceInfo};
use serde_json::Value;
use spurline_discovery::{Host, Records, Service as Kind};
use spurline_transport::Address;

use crate::bench::Workshop;

/// A service, its port, and what it says about itself.
type Service<'a> = (&'a str, u16, &'a [(&'a str, &'a str)]);

/// Announces services as instruments do, by a responder that is not ours, on the loopback interface alone.
fn announced(services: &[Service<'_>], name: &str, host: &str) -> ServiceDaemon {
    let daemon = ServiceDaemon::new().unwrap();
    let others = IfPredicate::new(|interface| interface.ip() != std::net::Ipv4Addr::LOCALHOST);
    daemon.disable_interface(IfKind::Predicate(others)).unwrap();
    for (service, port, texts) in services {
        let kind = format!("{service}.local.");
        let info = ServiceInfo::new(&kind, name, &format!("{host}.local."), "127.0.0.1", *port, *texts);
        daemon.register(info.unwrap()).unwrap();
    }
    daemon
}

fn of_host<'a>(document: &'a Value, host: &str) -> Vec<&'a Value> {
    let services = document["services"].as_array().unwrap();
    services.iter().filter(|service| service["host"] == format!("{host}.local")).collect()
}

#[test]
fn announced_instruments_are_found_with_addresses_for_a_bench_file() {
    // Other processes of this machine may announce as well.
    let host = format!("spurline-test-{}", std::process::id());
    let texts: &[(&str, &str)] = &[
        ("txtvers", "1"),
        ("Manufacturer", "Example Instruments"),
        ("Model", "Swept Analyser"),
        ("SerialNumber", "A-0001"),
        ("FirmwareVersion", "2.1"),
    ];
    let daemon = announced(
        &[
            ("_scpi-raw._tcp", 15_025, texts),
            ("_hislip._tcp", 14_880, texts),
            ("_vxi-11._tcp", 111, texts),
            ("_lxi._tcp", 80, texts),
        ],
        &format!("Swept Analyser of {host}"),
        &host,
    );
    let workshop = Workshop::new();
    let called = workshop.call(&["discover", "--on", "127.0.0.1", "--for", "4 s", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let document = called.json();
    let found: Vec<(&str, &str)> = of_host(&document, &host)
        .into_iter()
        .map(|service| (service["service"].as_str().unwrap(), service["address"].as_str().unwrap()))
        .collect();
    assert_eq!(
        found,
        [
            ("socket", "TCPIP::127.0.0.1::15025::SOCKET"),
            ("hislip", "TCPIP::127.0.0.1::hislip0,14880::INSTR"),
            ("vxi-11", "TCPIP::127.0.0.1::inst0::INSTR"),
            ("web", "http://127.0.0.1/"),
        ]
    );
    for service in of_host(&document, &host) {
        assert_eq!(service["maker"], "Example Instruments");
        assert_eq!((&service["model"], &service["serial"]), (&"Swept Analyser".into(), &"A-0001".into()));
        assert_eq!(service["firmware"], "2.1");
    }
    drop(daemon.shutdown());
}

/// Whatever is found can be copied into a bench file, an address of IPv6 that holds on one link only included. Numbers:
/// RFC 5737, RFC 3849 and RFC 4291.
#[test]
fn every_address_that_is_found_can_be_connected_to() {
    let link_local = |interface: &str| Host {
        address: "fe80::20".parse::<IpAddr>().unwrap(),
        interface: Some(interface.to_owned()),
    };
    let hosts = [
        IpAddr::from([192, 0, 2, 20]).into(),
        "2001:db8::20".parse::<IpAddr>().unwrap().into(),
        link_local("eth0"),
        link_local("enp3s0.12"),
    ];
    // A link that no address can name is left out.
    let unfit = [link_local(""), link_local("a name"), link_local("a]b")];
    for service in [Kind::Socket, Kind::Hislip, Kind::Vxi11] {
        for port in [111, 4880, 5025] {
            let records = Records {
                service,
                name: format!("Analyser.{}", service.dns_type()),
                host: "analyser.local.".to_owned(),
                port,
                addresses: hosts.iter().chain(&unfit).cloned().collect(),
                texts: Vec::new(),
            };
            let found = records.read().unwrap();
            assert_eq!(found.others.len() + 1, hosts.len());
            for address in found.others.iter().chain([&found.address]) {
                let read: Address = address.parse().unwrap();
                assert_eq!(read.to_string(), *address);
            }
        }
    }
}

#[test]
fn hostile_announcements_are_shown_harmless() {
    let host = format!("spurline-hostile-{}", std::process::id());
    let texts: &[(&str, &str)] = &[("Manufacturer", "\u{1b}[2J\u{202e}evil"), ("Model", "x\r\ny")];
    let daemon = announced(&[("_scpi-raw._tcp", 5025, texts)], &format!("\u{7}bell of {host}"), &host);
    let called = Workshop::new().call(&["discover", "--on", "127.0.0.1", "--for", "4 s"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.out.contains(r"\u{1b}[2J\u{202e}evil x\u{d}\u{a}y"), "{called:?}");
    let acts = |c: char| c != '\n' && c.is_control() || c == '\u{202e}';
    assert!(!called.out.contains(acts) && !called.talk.contains(acts), "{called:?}");
    drop(daemon.shutdown());
}

#[test]
fn what_cannot_be_listened_to_is_wrong_usage() {
    let workshop = Workshop::new();
    for arguments in [
        &["discover", "--for", "3"][..],
        &["discover", "--for", "0 s"],
        &["discover", "--for", "1000 s"],
        &["discover", "--on", "nowhere"],
        // RFC 5737: no machine has it.
        &["discover", "--on", "203.0.113.7"],
    ] {
        let called = workshop.call(arguments);
        assert_eq!(called.exit, 2, "{arguments:?}: {called:?}");
    }
}
