//! The bench on real links: one place an instrument, any number of connections.
//!
//! A [`Port`](port::Port) is one instrument as a link sees it: program messages in, [`Delivery`](delivery::Delivery)
//! out. A link (`socket`) only knows how its kind carries them.

mod delivery;
mod faults;
mod port;
mod shared;
mod socket;

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use spurline_clock::Clock;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;

use crate::bench::{Fault, SimulatedBench};
use crate::draw::Seed;
use crate::instruments::{Analyser, Device, PowerMeter, Relay, Supply, UnitControl, Wired};
use crate::observed::Observations;
use crate::role::Role;
use crate::world::World;

/// What is wired to what, and where each instrument listens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wiring {
    /// The relay's contact on the unit's key line.
    pub key_channel: u32,
    /// Instruments and their addresses; `None` for any free port of this machine.
    pub listen: Vec<(Role, Option<SocketAddr>)>,
}

/// Why a bench cannot be served.
#[derive(Debug, Error)]
pub enum ServeError {
    /// The port cannot be had.
    #[error("the {role} cannot listen at {address}")]
    Listen {
        /// Whose.
        role: Role,
        /// Where.
        address: SocketAddr,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The file does not say what the instrument is.
    #[error("the simulated bench has no {0}: its key is missing under `simulated`")]
    Missing(Role),
}

impl ServeError {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Listen { .. } => "is another program, or another simulated bench, on that port?",
            Self::Missing(_) => "add its key under `simulated`, or take the instrument out of the bench",
        }
    }
}

/// A bench that is being served, until it is stopped or dropped.
#[derive(Debug)]
pub struct Served {
    addresses: Vec<(Role, SocketAddr)>,
    servers: Vec<JoinHandle<()>>,
    world: Arc<World>,
    clock: Clock,
}

impl Served {
    /// Where each instrument answers.
    #[must_use]
    pub fn addresses(&self) -> &[(Role, SocketAddr)] {
        &self.addresses
    }

    /// What really happened so far; for tests, never for a client.
    #[must_use]
    pub fn observed(&self) -> Observations {
        self.world.observed(self.clock.now())
    }

    /// Closes every listener and connection.
    pub async fn stop(mut self) {
        for server in self.servers.drain(..) {
            server.abort();
            // Aborted is what it should be; a panic has been printed already.
            drop(server.await);
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.servers.iter().for_each(JoinHandle::abort);
    }
}

/// Serves a bench.
///
/// # Errors
///
/// [`ServeError`].
pub async fn serve(bench: &SimulatedBench, wiring: &Wiring, clock: Clock) -> Result<Served, ServeError> {
    let world = Arc::new(World::new(bench, clock.now()));
    let mut served = Served { addresses: Vec::new(), servers: Vec::new(), world: world.clone(), clock };
    for (role, address) in &wiring.listen {
        let role = *role;
        let missing = || ServeError::Missing(role);
        if !bench.has(role) {
            return Err(missing());
        }
        let (listener, bound) = listen(role, *address).await?;
        let faults = bench.faults.iter().filter(|fault| fault.instrument == role).cloned().collect();
        let place = Place { listener, faults, seed: bench.seed, clock };
        let (seed, world) = (bench.seed, world.clone());
        let server = match role {
            Role::Analyser => {
                let truth = bench.analyser.clone().ok_or_else(missing)?;
                start(move || Analyser::new(&truth, seed, world.clone()), place)
            }
            Role::PowerMeter => {
                let truth = bench.power_meter.clone().ok_or_else(missing)?;
                start(move || PowerMeter::new(&truth, seed, world.clone()), place)
            }
            Role::Supply => {
                let truth = bench.supply.clone().ok_or_else(missing)?;
                start(move || Supply::new(truth.clone(), world.clone()), place)
            }
            Role::Relay => {
                let (truth, wired) =
                    (bench.relay.clone().ok_or_else(missing)?, Wired::Key(wiring.key_channel));
                start(move || Relay::new(truth.clone(), world.clone(), wired), place)
            }
            Role::Switch => {
                let truth = bench.switch.clone().ok_or_else(missing)?;
                start(move || Relay::new(truth.clone(), world.clone(), Wired::Path), place)
            }
            Role::UnitControl => start(move || UnitControl::new(world.clone()), place),
        };
        served.addresses.push((role, bound));
        served.servers.push(server);
    }
    Ok(served)
}

async fn listen(role: Role, address: Option<SocketAddr>) -> Result<(TcpListener, SocketAddr), ServeError> {
    let address = address.unwrap_or_else(|| SocketAddr::from((Ipv4Addr::LOCALHOST, 0)));
    let failed = |source| ServeError::Listen { role, address, source };
    let listener = TcpListener::bind(address).await.map_err(failed)?;
    let bound = listener.local_addr().map_err(failed)?;
    Ok((listener, bound))
}

/// Where one instrument is served, and what goes wrong there.
struct Place {
    listener: TcpListener,
    faults: Vec<Fault>,
    seed: Seed,
    clock: Clock,
}

fn start<D: Device>(make: impl Fn() -> D + Send + Sync + 'static, place: Place) -> JoinHandle<()> {
    let Place { listener, faults, seed, clock } = place;
    tokio::spawn(socket::accept(listener, shared::Shared::new(make, faults, seed, clock), clock))
}
