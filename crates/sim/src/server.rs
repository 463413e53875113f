//! The bench on real sockets: one listener an instrument, any number of connections.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::pin::pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use bytes::BytesMut;
use spurline_clock::{Clock, Moment};
use spurline_scpi::{Limits, ProgramDecoder};
use thiserror::Error;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Notify, watch};
use tokio::task::{JoinHandle, JoinSet};

use crate::bench::{Fault, FaultKind, SimulatedBench};
use crate::instruments::{
    Analyser, Device, Execution, Instrument, PowerMeter, Relay, Step, Supply, UnitControl, Wired,
};
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

/// What an instrument takes in one message before it complains of an overrun.
const INPUT_BUFFER: Limits = Limits { text: 64 << 10, block: 1 << 20 };

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
        let outage = bench.faults.iter().find(|fault| fault.instrument == role).copied();
        let server = match role {
            Role::Analyser => {
                let truth = bench.analyser.as_ref().ok_or_else(missing)?;
                start(Analyser::new(truth, bench.seed, world.clone()), listener, outage, clock)
            }
            Role::PowerMeter => {
                let truth = bench.power_meter.as_ref().ok_or_else(missing)?;
                start(PowerMeter::new(truth, bench.seed, world.clone()), listener, outage, clock)
            }
            Role::Supply => {
                let truth = bench.supply.clone().ok_or_else(missing)?;
                start(Supply::new(truth, world.clone()), listener, outage, clock)
            }
            Role::Relay => {
                let truth = bench.relay.clone().ok_or_else(missing)?;
                let relay = Relay::new(truth, world.clone(), Wired::Key(wiring.key_channel));
                start(relay, listener, outage, clock)
            }
            Role::Switch => {
                let truth = bench.switch.clone().ok_or_else(missing)?;
                start(Relay::new(truth, world.clone(), Wired::Path), listener, outage, clock)
            }
            Role::UnitControl => start(UnitControl::new(world.clone()), listener, outage, clock),
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

/// One instrument, shared by its connections.
struct Shared<D: Device> {
    instrument: Mutex<Instrument<D>>,
    clock: Clock,
    fault: Option<Fault>,
    messages: AtomicU64,
    /// Since when the fault has been there.
    since: watch::Sender<Option<Moment>>,
    /// A message was carried out: what another connection waits for may have changed.
    changed: Notify,
}

impl<D: Device> Shared<D> {
    fn instrument(&self) -> MutexGuard<'_, Instrument<D>> {
        self.instrument.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts a message; the fault begins with the one after the last good one.
    fn count(&self) {
        let count = self.messages.fetch_add(1, Ordering::Relaxed) + 1;
        if self.fault.is_some_and(|fault| count == fault.after_messages + 1) {
            self.since.send_replace(Some(self.clock.now()));
        }
    }

    /// Waits until the link is cut.
    async fn cut(&self) {
        let mut since = self.since.subscribe();
        while self.out_of_order() != Some(FaultKind::CutLink) {
            if since.changed().await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }

    /// The fault, while it is there.
    fn out_of_order(&self) -> Option<FaultKind> {
        let fault = self.fault?;
        let since = (*self.since.borrow())?;
        let over = fault.lasts.is_some_and(|span| self.clock.now() >= since.after(span.duration()));
        (!over).then_some(fault.kind)
    }
}

fn start<D: Device>(device: D, listener: TcpListener, fault: Option<Fault>, clock: Clock) -> JoinHandle<()> {
    let shared = Arc::new(Shared {
        instrument: Mutex::new(Instrument::new(device)),
        clock,
        fault,
        messages: AtomicU64::new(0),
        since: watch::Sender::new(None),
        changed: Notify::new(),
    });
    tokio::spawn(accept(listener, shared))
}

/// Takes connections until it is dropped. While the link is cut nobody listens, so that new ones are refused.
async fn accept<D: Device>(listener: TcpListener, shared: Arc<Shared<D>>) {
    let Ok(address) = listener.local_addr() else { return };
    let mut listener = Some(listener);
    while let Some(open) = listener.take() {
        listen_until_cut(open, &shared).await;
        let Some(span) = shared.fault.and_then(|fault| fault.lasts) else { return };
        shared.clock.sleep(span.duration()).await;
        listener = TcpListener::bind(address).await.ok();
    }
}

/// Takes connections until the link is cut; they end with it.
async fn listen_until_cut<D: Device>(listener: TcpListener, shared: &Arc<Shared<D>>) {
    let mut connections = JoinSet::new();
    loop {
        tokio::select! {
            biased;
            () = shared.cut() => return,
            accepted = listener.accept() => {
                let Ok((stream, _)) = accepted else { return };
                while connections.try_join_next().is_some() {}
                connections.spawn(converse(stream, shared.clone()));
            }
        }
    }
}

/// One connection: messages in, answers out, in order. Ends when the client goes.
async fn converse<D: Device>(mut stream: TcpStream, shared: Arc<Shared<D>>) {
    if stream.set_nodelay(true).is_ok() {
        // That the client went away in the middle is its own affair.
        drop(talk(&mut stream, &shared).await);
    }
}

async fn talk<D: Device>(stream: &mut TcpStream, shared: &Shared<D>) -> io::Result<()> {
    let mut buffer = BytesMut::with_capacity(4096);
    let mut decoder = ProgramDecoder::new(INPUT_BUFFER);
    loop {
        match decoder.decode(&mut buffer) {
            Ok(Some(message)) => {
                shared.count();
                if shared.out_of_order().is_some() {
                    continue;
                }
                if let Some(mut answer) = carry_out(&message, shared).await {
                    answer.push(b'\n');
                    // One write for one answer: a split one would wait for the peer's acknowledgement.
                    stream.write_all(&answer).await?;
                }
            }
            Ok(None) => {
                if stream.read_buf(&mut buffer).await? == 0 {
                    return Ok(());
                }
            }
            Err(error) => shared.instrument().note(error.code()),
        }
    }
}

async fn carry_out<D: Device>(message: &[u8], shared: &Shared<D>) -> Option<Vec<u8>> {
    let mut execution = Execution::new(message);
    loop {
        let mut changed = pin!(shared.changed.notified());
        // Before the step, so that nothing that happens behind it is missed.
        changed.as_mut().enable();
        let step = shared.instrument().step(&mut execution, shared.clock.now());
        match step {
            Step::Done(answer) => {
                shared.changed.notify_waiters();
                return answer.map(Vec::from);
            }
            Step::WaitUntil(moment) => tokio::select! {
                () = shared.clock.sleep_until(moment) => {}
                () = changed => {}
            },
        }
    }
}
