//! The simulated bench of a bench file: read, and served in this process.

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use spurline_clock::Clock;
use spurline_document::{Mistakes, Reader};
use spurline_instrument::KeyProgram;
use spurline_plan::Bench;
use spurline_record::Role;
use spurline_report::paragraph;
use spurline_sequencer::{KeyLineAt, KeySetup};
use spurline_sim::{KeyLinePlace, Place, Served, SimulatedBench, Wiring};
use spurline_transport::Address;

use crate::failure::Failure;

/// Reads the simulated part of a bench file; `None` if the bench is real.
pub fn read(bench: &Bench) -> Result<Option<SimulatedBench>, Mistakes> {
    let Some(node) = &bench.simulated else { return Ok(None) };
    let mut reader = Reader::new(&bench.document);
    let simulated = SimulatedBench::read(&mut reader, node);
    if let Some(second) = bench.switch_cards().nth(1) {
        reader
            .mistake(second.address_span, "a simulated bench has one card of relays for its path")
            .hint("give all relays of the path the same address");
    }
    let served = |role| simulated.as_ref().is_none_or(|bench| bench.has(simulated_role(role)));
    for instrument in bench.instruments.iter().filter(|instrument| !served(instrument.role)) {
        let message = format!("the bench has a {}, and what is simulated of it has none", instrument.role);
        reader
            .mistake(instrument.address_span, message)
            .hint(format!("add one under `simulated:`, or take the {} out of the bench", instrument.role));
    }
    reader.finish(simulated).map(Some)
}

/// The simulator's word for a role.
fn simulated_role(role: Role) -> spurline_sim::Role {
    match role {
        Role::Analyser => spurline_sim::Role::Analyser,
        Role::PowerMeter => spurline_sim::Role::PowerMeter,
        Role::Supply => spurline_sim::Role::Supply,
        Role::Relay => spurline_sim::Role::Relay,
        Role::UnitControl => spurline_sim::Role::UnitControl,
        Role::Switch => spurline_sim::Role::Switch,
        Role::Generator => spurline_sim::Role::Generator,
        Role::AudioGenerator => spurline_sim::Role::AudioGenerator,
    }
}

fn wiring(
    bench: &Bench,
    line: impl Fn(&str) -> KeyLinePlace,
    place: impl Fn(&Address) -> Result<Place, Failure>,
) -> Result<Wiring, Failure> {
    let listen = bench.instruments.iter().map(|i| Ok((simulated_role(i.role), place(&i.address)?)));
    Ok(Wiring {
        key_channel: bench.key.relay().map_or(0, |relay| relay.contact),
        key_supply: bench.key.is_supply(),
        key_line: bench.key.serial_line().map(|found| line(&found.path)),
        listen: listen.collect::<Result<_, Failure>>()?,
    })
}

/// Who holds the key of a bench, and where its line is: for one that is not in this process, this program in a process
/// of its own.
pub fn key(served: Option<&Served>) -> KeySetup {
    match served {
        Some(served) => {
            let line = served.key_line().map(|path| KeyLineAt::Instead(path.display().to_string()));
            KeySetup { program: None, line: line.unwrap_or_default() }
        }
        None => KeySetup {
            // This very program, also if its file was replaced meanwhile.
            program: Some(KeyProgram {
                program: "/proc/self/exe".into(),
                arguments: vec!["keyholder".into()],
            }),
            line: KeyLineAt::AsWritten,
        },
    }
}

/// What a person must know before a port that keys is opened.
#[must_use]
pub fn warning_of_port(bench: &Bench) -> Option<String> {
    let line = bench.key.serial_line()?;
    let text = format!(
        "opening {} may key the transmitter for some milliseconds: connect the load first",
        line.path
    );
    Some(paragraph(&text, 0))
}

/// Serves the bench on free places of this machine, by the kinds of link that its file names, and says where.
pub async fn serve_anywhere(
    bench: &Bench,
    simulated: &SimulatedBench,
    clock: Clock,
) -> Result<(Served, BTreeMap<Role, Address>), Failure> {
    clock.is_told_of_all();
    let wiring = wiring(bench, |_| KeyLinePlace::Anywhere, |address| Ok(like(address, ANY).anywhere()))?;
    let served = spurline_sim::serve(simulated, &wiring, clock).await?;
    let addresses = addresses(bench, &served).collect();
    Ok((served, addresses))
}

/// Serves the bench where its file says.
pub async fn serve_as_written(
    bench: &Bench,
    simulated: &SimulatedBench,
    clock: Clock,
) -> Result<Served, Failure> {
    Ok(spurline_sim::serve(simulated, &wiring(bench, |path| KeyLinePlace::At(path.into()), place)?, clock)
        .await?)
}

/// Where each instrument of a served bench answers.
pub fn addresses<'a>(bench: &'a Bench, served: &'a Served) -> impl Iterator<Item = (Role, Address)> + 'a {
    bench.instruments.iter().filter_map(|instrument| {
        let wanted = simulated_role(instrument.role);
        let (_, place) = served.places().iter().find(|(role, _)| *role == wanted)?;
        Some((instrument.role, address(place)))
    })
}

/// Any free port of this machine.
const ANY: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

/// The place at `at` that has the kind of link of an address.
fn like(address: &Address, at: SocketAddr) -> Place {
    match address {
        Address::Socket { .. } => Place::Socket { at },
        Address::Serial { device } => Place::Serial { path: Some(device.into()) },
        Address::Hislip { sub_address, .. } => Place::Hislip { at, device: sub_address.clone() },
        Address::Vxi11 { device, .. } => Place::Vxi11 { at, device: device.clone() },
    }
}

/// The place that an address names.
fn place(address: &Address) -> Result<Place, Failure> {
    let wrong = |why: &str, advice: &str| Failure::Usage {
        message: format!("the simulated bench cannot listen at `{address}`: {why}"),
        advice: advice.to_owned(),
    };
    let (host, port) = match address {
        Address::Serial { .. } => return Ok(like(address, ANY)),
        Address::Socket { host, port } | Address::Hislip { host, port, .. } => (host, *port),
        Address::Vxi11 { host, port: Some(port), .. } => (host, *port),
        Address::Vxi11 { port: None, .. } => {
            return Err(wrong(
                "it serves no port mapper, so that its port must be named",
                "write the port behind the host: `TCPIP::127.0.0.1,7011::inst0::INSTR`",
            ));
        }
    };
    let host: IpAddr = host.parse().map_err(|_| {
        wrong(
            "the host is not a number",
            "write an address of this machine, such as `TCPIP::127.0.0.1::5025::SOCKET`",
        )
    })?;
    Ok(like(address, SocketAddr::new(host, port)))
}

/// The address of a place.
fn address(place: &Place) -> Address {
    let host = |at: &SocketAddr| at.ip().to_string();
    match place {
        Place::Socket { at } => Address::Socket { host: host(at), port: at.port() },
        Place::Hislip { at, device } => {
            Address::Hislip { host: host(at), port: at.port(), sub_address: device.clone() }
        }
        Place::Vxi11 { at, device } => {
            Address::Vxi11 { host: host(at), port: Some(at.port()), device: device.clone() }
        }
        Place::Serial { path } => {
            let path = path.as_ref().expect("a served line has a path");
            Address::Serial { device: path.display().to_string() }
        }
    }
}
