//! Taking connections: until the link is cut, and again when it is mended.

use std::future::{Future, pending};
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use spurline_clock::Clock;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;

use super::port::{Cut, Port};
use super::seats::{Seat, Seats};
use crate::bench::Busy;

/// How long it waits before something is tried again that the system refused.
const TRY_AGAIN: Duration = Duration::from_millis(100);
/// Connections of one listener at a time, those included that never say a word; one more is closed at once.
const MOST_CONNECTIONS: usize = 256;

/// Takes connections until it is dropped, and has each served. While the link is cut nobody listens, so that new ones
/// are refused. `seats` are those of the connections; a link that counts its clients otherwise has none here.
pub(super) async fn accept<P, F>(
    listener: TcpListener,
    port: Arc<P>,
    seats: Option<Arc<Seats>>,
    clock: Clock,
    serve: impl Fn(TcpStream, Option<Seat>) -> F,
) where
    P: Port,
    F: Future<Output = ()> + Send + 'static,
{
    let Ok(address) = listener.local_addr() else { return };
    let mut listener = Some(listener);
    let mut connections = JoinSet::new();
    while let Some(open) = listener.take() {
        let cut =
            listen_until_cut(open, address, &*port, seats.as_ref(), clock, &mut connections, &serve).await;
        if cut == Cut::All {
            connections.shutdown().await;
        }
        port.mended().await;
        listener = Some(bind(address, clock).await);
    }
}

/// Listens again where it was listened before, however often that must be tried.
async fn bind(address: SocketAddr, clock: Clock) -> TcpListener {
    loop {
        match TcpListener::bind(address).await {
            Ok(listener) => return listener,
            Err(_) => clock.sleep(TRY_AGAIN).await,
        }
    }
}

/// Takes connections until new ones are refused; says what becomes of the others.
async fn listen_until_cut<P, F>(
    listener: TcpListener,
    address: SocketAddr,
    port: &P,
    seats: Option<&Arc<Seats>>,
    clock: Clock,
    connections: &mut JoinSet<()>,
    serve: &impl Fn(TcpStream, Option<Seat>) -> F,
) -> Cut
where
    P: Port,
    F: Future<Output = ()> + Send + 'static,
{
    let mut listener = Some(listener);
    loop {
        let full = seats.filter(|seats| seats.are_taken());
        match full.map(|seats| seats.busy()) {
            // Nobody listens: the system refuses.
            Some(Busy::Refuse) => listener = None,
            _ if listener.is_none() => listener = Some(bind(address, clock).await),
            _ => {}
        }
        let waits = full.is_some_and(|seats| seats.busy() == Busy::Wait);
        let accepted = async {
            match &listener {
                Some(listener) if !waits => listener.accept().await,
                _ => pending().await,
            }
        };
        let freed = async {
            match full {
                Some(seats) => seats.freed().await,
                None => pending().await,
            }
        };
        tokio::select! {
            biased;
            cut = port.cut() => return cut,
            () = freed => {}
            accepted = accepted => {
                while connections.try_join_next().is_some() {}
                let Ok((stream, _)) = accepted else {
                    // As when the process has no handle left: those who are connected go on, and others may come later.
                    clock.sleep(TRY_AGAIN).await;
                    continue;
                };
                clock.hears(&stream);
                if connections.len() >= MOST_CONNECTIONS {
                    continue;
                }
                match seats.map(Seats::take) {
                    None => drop(connections.spawn(serve(stream, None))),
                    Some(Some(seat)) => drop(connections.spawn(serve(stream, Some(seat)))),
                    Some(None) => drop(stream),
                }
            }
        }
    }
}
