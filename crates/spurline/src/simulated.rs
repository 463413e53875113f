//! The simulated bench of a bench file: read, and served in this process.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};

use spurline_clock::Clock;
use spurline_document::{Mistakes, Reader};
use spurline_plan::Bench;
use spurline_record::Role;
use spurline_sim::{Served, SimulatedBench, Wiring};
use spurline_transport::Address;

use crate::talk::Failure;

/// Reads the simulated part of a bench file; `None` if the bench is real.
pub(crate) fn read(bench: &Bench) -> Result<Option<SimulatedBench>, Mistakes> {
    let Some(node) = &bench.simulated else { return Ok(None) };
    let mut reader = Reader::new(&bench.document);
    let simulated = SimulatedBench::read(&mut reader, node);
    if let Some(second) = bench.switch_cards().nth(1) {
        reader
            .mistake(second.address_span, "a simulated bench has one card of relays for its path")
            .hint("give all relays of the path the same address");
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
    }
}

fn wiring(bench: &Bench, listen: impl Fn(Role) -> Option<SocketAddr>) -> Wiring {
    let listen = bench.instruments.iter().map(|i| (simulated_role(i.role), listen(i.role))).collect();
    Wiring { key_channel: bench.key.contact, listen }
}

/// Serves the bench on free ports of this machine and says where.
pub(crate) async fn serve_anywhere(
    bench: &Bench,
    simulated: &SimulatedBench,
    clock: Clock,
) -> Result<(Served, BTreeMap<Role, Address>), Failure> {
    let served = spurline_sim::serve(simulated, &wiring(bench, |_| None), clock).await?;
    let addresses = addresses(bench, &served).map(|(role, address)| (role, address.into())).collect();
    Ok((served, addresses))
}

/// Serves the bench where its file says.
pub(crate) async fn serve_as_written(
    bench: &Bench,
    simulated: &SimulatedBench,
    clock: Clock,
) -> Result<Served, Failure> {
    let mut places = BTreeMap::new();
    for instrument in &bench.instruments {
        places.insert(instrument.role, place(&instrument.address)?);
    }
    Ok(spurline_sim::serve(simulated, &wiring(bench, |role| places.get(&role).copied()), clock).await?)
}

/// Where each instrument of a served bench answers.
pub(crate) fn addresses<'a>(
    bench: &'a Bench,
    served: &'a Served,
) -> impl Iterator<Item = (Role, SocketAddr)> + 'a {
    bench.instruments.iter().filter_map(|instrument| {
        let wanted = simulated_role(instrument.role);
        let found = served.addresses().iter().find(|(role, _)| *role == wanted);
        found.map(|(_, address)| (instrument.role, *address))
    })
}

fn place(address: &Address) -> Result<SocketAddr, Failure> {
    let wrong = |why: &str| Failure::Usage {
        message: format!("the simulated bench cannot listen at `{address}`: {why}"),
        advice: "write an address of this machine, such as `TCPIP::127.0.0.1::5025::SOCKET`".to_owned(),
    };
    match address {
        Address::Socket { host, port } => {
            let number: IpAddr = host.parse().map_err(|_| wrong("the host is not a number"))?;
            Ok(SocketAddr::from((number, *port)))
        }
        Address::Serial { .. } => Err(wrong("it is a serial port")),
        Address::Hislip { .. } | Address::Vxi11 { .. } => Err(wrong("it is no raw socket")),
    }
}
