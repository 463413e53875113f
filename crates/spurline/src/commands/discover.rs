//! `discover`: instruments that announce themselves on the network.

use std::net::IpAddr;

use clap::Args;
use serde_json::{Value, json};
use spurline_clock::{Clock, Pace};
use spurline_discovery::{Announced, Heard, Service, listen};
use spurline_units::Seconds;

use crate::exit::Exit;
use crate::talk::{self, Failure, print_json, say, wrapped};

/// Listen for instruments that announce themselves on the network (DNS-SD over multicast DNS)
///
/// Prints, for each service of each instrument, the address that a bench file takes, and what the instrument says about
/// itself. Anybody on the network can announce anything: `identify` asks the instrument. Nothing is spoken to.
///
/// Ends with 0 if something was found, 1 if nothing was, 2 for wrong usage, 4 if the network cannot be listened to.
#[derive(Args, Debug)]
pub(crate) struct Discover {
    /// How long to listen
    #[arg(long = "for", value_name = "TIME", default_value = "3 s")]
    span: String,
    /// Listen only on the interface with this address of this machine; may be given more than once
    #[arg(long, value_name = "IP")]
    on: Vec<IpAddr>,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

const SPANS: std::ops::RangeInclusive<f64> = 0.1..=600.0;

impl Discover {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let wrong = |message: String| Failure::Usage {
            message: format!("--for: {message}"),
            advice: "3 s is enough for most networks".to_owned(),
        };
        let span: Seconds = self.span.parse().map_err(|error| wrong(format!("{error}")))?;
        if !SPANS.contains(&span.get()) {
            return Err(wrong(format!("expected a time from 0.1 s to 600 s, found {span}")));
        }
        let on = &self.on;
        let heard = spurline_clock::run(Pace::Real, |clock: Clock| listen(span.duration(), on, clock));
        let heard = heard.map_err(Failure::runtime)?.map_err(Failure::Discovery)?;
        if self.json {
            print_json(&as_json(&heard))?;
        } else {
            talk::print_text(&as_text(&heard))?;
        }
        if heard.services.is_empty() {
            say(NOTHING);
            return Ok(Exit::Exceeds);
        }
        Ok(Exit::Good)
    }
}

const NOTHING: &str = "nothing was announced\n  help: is the instrument on the same network, with its announcements \
    (mDNS) on, and is multicast\n  allowed there? By its address it can be used all the same: `spurline identify ADDRESS`";

fn as_text(heard: &Heard) -> String {
    let mut text = String::new();
    let mut host = None;
    for service in &heard.services {
        if host != Some(&service.host) {
            host = Some(&service.host);
            text.push_str(&format!("{}\n", wrapped(&whose(service), 2)));
        }
        // The address stands alone on its line's end, to be pasted.
        text.push_str(&format!("  {:<9} {}\n", service.service.to_string(), service.address));
    }
    if heard.more {
        text.push_str(&format!("more was announced than the first {}\n", heard.services.len()));
    }
    text
}

/// Who announces, in one line: what it says about itself and the name of its host.
fn whose(service: &Announced) -> String {
    let said = [&service.maker, &service.model];
    let said: Vec<&str> = said.into_iter().map(String::as_str).filter(|text| !text.is_empty()).collect();
    let mut line = if said.is_empty() { service.name.clone() } else { said.join(" ") };
    for (word, value) in [("serial number", &service.serial), ("firmware", &service.firmware)] {
        if !value.is_empty() {
            line.push_str(&format!(", {word} {value}"));
        }
    }
    format!("{line}, at {}", service.host)
}

fn as_json(heard: &Heard) -> Value {
    json!({
        "services": heard.services.iter().map(service_json).collect::<Vec<_>>(),
        "more": heard.more,
    })
}

fn service_json(service: &Announced) -> Value {
    json!({
        "service": match service.service {
            Service::Socket => "socket",
            Service::Hislip => "hislip",
            Service::Vxi11 => "vxi-11",
            Service::Web => "web",
        },
        "name": service.name,
        "address": service.address,
        "other_addresses": service.others,
        "host": service.host,
        "maker": service.maker,
        "model": service.model,
        "serial": service.serial,
        "firmware": service.firmware,
    })
}
