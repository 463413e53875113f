//! From a place to an instrument that is served there.

use std::net::SocketAddr;

use spurline_clock::Clock;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;

use super::place::Place;
use super::pty::Pty;
use super::seats::Seats;
use super::shared::Shared;
use super::{ServeError, hislip, socket, vxi11};
use crate::bench::{Fault, LinkTruth, SimulatedBench};
use crate::draw::Seed;
use crate::instruments::Device;
use crate::role::Role;

/// A place that was had, for an instrument that is still to come.
pub(super) struct Start {
    place: Place,
    opened: Opened,
    link: LinkTruth,
    faults: Vec<Fault>,
    seed: Seed,
    clock: Clock,
}

/// What was opened there.
enum Opened {
    Socket(TcpListener),
    Hislip(TcpListener, String),
    Vxi11(vxi11::Listeners, String),
    Serial(Pty),
}

impl Start {
    /// Takes the place.
    pub(super) async fn at(
        bench: &SimulatedBench,
        role: Role,
        place: &Place,
        clock: Clock,
    ) -> Result<Self, ServeError> {
        let failed = |source| ServeError::Listen { role, place: place.clone(), source };
        let (opened, had) = match place {
            Place::Socket { at } => {
                let (listener, had) = listen(*at).await.map_err(failed)?;
                (Opened::Socket(listener), place.bound(had))
            }
            Place::Serial { path } => {
                let pty = Pty::open(path.as_deref()).map_err(failed)?;
                let had = Place::Serial { path: Some(pty.path().to_owned()) };
                (Opened::Serial(pty), had)
            }
            Place::Hislip { at, device } => {
                let (listener, had) = listen(*at).await.map_err(failed)?;
                (Opened::Hislip(listener, device.clone()), place.bound(had))
            }
            Place::Vxi11 { at, device } => {
                let (core, had) = listen(*at).await.map_err(failed)?;
                let (abort, _) = listen(SocketAddr::new(at.ip(), 0)).await.map_err(failed)?;
                (Opened::Vxi11(vxi11::Listeners { core, abort }, device.clone()), place.bound(had))
            }
        };
        let faults = bench.faults.iter().filter(|fault| fault.instrument == role).cloned().collect();
        Ok(Self { place: had, opened, link: bench.link(role), faults, seed: bench.seed, clock })
    }

    /// Where it is.
    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    /// Serves a device there; `make` makes it as it is when it has just been switched on.
    pub(super) fn serve<D: Device>(self, make: impl Fn() -> D + Send + Sync + 'static) -> JoinHandle<()> {
        let Self { place: _, opened, link, faults, seed, clock } = self;
        let port = Shared::new(make, faults, seed, clock);
        match opened {
            Opened::Socket(listener) => {
                tokio::spawn(socket::serve(listener, port, Seats::new(&link), link.output, clock))
            }
            Opened::Hislip(listener, device) => {
                tokio::spawn(hislip::serve(listener, port, Seats::new(&link), device, clock))
            }
            Opened::Vxi11(listeners, device) => {
                tokio::spawn(vxi11::serve(listeners, port, Seats::new(&link), device, clock))
            }
            Opened::Serial(pty) => tokio::spawn(pty.serve(port, link.output, clock)),
        }
    }
}

async fn listen(at: SocketAddr) -> std::io::Result<(TcpListener, SocketAddr)> {
    let listener = TcpListener::bind(at).await?;
    let had = listener.local_addr()?;
    Ok((listener, had))
}
