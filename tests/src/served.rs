//! A simulated bench served for a run in the same process, and the run.

use std::collections::BTreeMap;
use std::error::Error;
use std::future::pending;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use spurline_clock::Clock;
use spurline_plan::Job;
use spurline_record::{Event, Role, RunId};
use spurline_sequencer::{Arming, Begun, Dispatcher, KeySetup, Listener, Recorder, RunFault, Setup, measure};
use spurline_sim::{Place, ServeError, Served, SimulatedBench, Wiring};
use spurline_transport::{Address, Tap};

/// Serves a bench and does the whole of a job on it. Nothing is kept: what happened is heard.
pub(crate) async fn measured<E: From<ServeError> + From<RunFault>>(
    job: &Job,
    bench: &SimulatedBench,
    clock: Clock,
    software: &str,
    hearing: &mut dyn Listener,
) -> Result<(), E> {
    let (served, addresses) = serve(job, bench, clock).await?;
    let setup = Setup {
        before: spurline_sequencer::Before::default(),
        id: RunId::new(clock.timestamp(), 0),
        software: software.to_owned(),
        unit: None,
        firmware: None,
        simulated: Some(bench.seed()),
        addresses,
        key: KeySetup::default(),
        notes: Vec::new(),
        noted: Vec::new(),
        kept: None,
        arming: Arming::Simulated,
        proven: None,
    };
    let begun = Begun::connect(job, &setup, clock, Tap::default()).await?;
    let mut nothing = NotKept;
    let mut out = Dispatcher::new(clock, &mut nothing, hearing);
    let ended = measure(job, &setup, begun, clock, &mut out, pending()).await;
    served.stop().await;
    ended?;
    Ok(())
}

/// Nothing is kept: what happened is heard.
struct NotKept;

impl Recorder for NotKept {
    fn keep(&mut self, _: &[Event]) -> Result<(), Box<dyn Error + Send + Sync>> {
        Ok(())
    }
}

/// Serves a bench on free sockets of this machine, and says where each of its instruments answers.
pub(crate) async fn serve(
    job: &Job,
    bench: &SimulatedBench,
    clock: Clock,
) -> Result<(Served, BTreeMap<Role, Address>), ServeError> {
    let at = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0);
    let roles: Vec<(Role, spurline_sim::Role)> =
        job.bench.instruments.iter().filter_map(|instrument| known(instrument.role)).collect();
    let listen = roles.iter().map(|(_, role)| (*role, Place::Socket { at })).collect();
    let wiring = Wiring {
        key_channel: job.bench.key.relay().map_or(0, |relay| relay.contact),
        key_supply: job.bench.key.is_supply(),
        key_line: None,
        listen,
    };
    let served = spurline_sim::serve(bench, &wiring, clock).await?;
    let addresses = roles.iter().zip(served.places()).filter_map(|((role, _), (_, place))| match place {
        Place::Socket { at } => Some((*role, Address::Socket { host: at.ip().to_string(), port: at.port() })),
        Place::Serial { .. } | Place::Hislip { .. } | Place::Vxi11 { .. } => None,
    });
    let addresses = addresses.collect();
    Ok((served, addresses))
}

/// The roles that a bench of these tests has instruments for, in the words of both ends.
fn known(role: Role) -> Option<(Role, spurline_sim::Role)> {
    let roles = [
        (Role::Analyser, spurline_sim::Role::Analyser),
        (Role::PowerMeter, spurline_sim::Role::PowerMeter),
        (Role::Relay, spurline_sim::Role::Relay),
        (Role::UnitControl, spurline_sim::Role::UnitControl),
        (Role::Supply, spurline_sim::Role::Supply),
        (Role::Switch, spurline_sim::Role::Switch),
    ];
    roles.into_iter().find(|(known, _)| *known == role)
}
