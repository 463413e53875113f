//! Taking connections: until the link is cut, and again when it is mended.

use std::future::{Future, pending};
use std::net::SocketAddr;
use std::sync::Arc;

use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;

use super::port::{Cut, Port};
use super::seats::{Seat, Seats};
use crate::bench::Busy;

/// Takes connections until it is dropped, and has each served. While the link is cut nobody listens, so that new ones
/// are refused. `seats` are those of the connections; a link that counts its clients otherwise has none here.
pub(super) async fn accept<P, F>(
    listener: TcpListener,
    port: Arc<P>,
    seats: Option<Arc<Seats>>,
    serve: impl Fn(TcpStream, Option<Seat>) -> F,
) where
    P: Port,
    F: Future<Output = ()> + Send + 'static,
{
    let Ok(address) = listener.local_addr() else { return };
    let mut listener = Some(listener);
    let mut connections = JoinSet::new();
    while let Some(open) = listener.take() {
        let cut = listen_until_cut(open, address, &*port, seats.as_ref(), &mut connections, &serve).await;
        if cut == Cut::All {
            connections.shutdown().await;
        }
        port.mended().await;
        listener = TcpListener::bind(address).await.ok();
    }
}

/// Takes connections until new ones are refused; says what becomes of the others.
async fn listen_until_cut<P, F>(
    listener: TcpListener,
    address: SocketAddr,
    port: &P,
    seats: Option<&Arc<Seats>>,
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
            _ if listener.is_none() => listener = TcpListener::bind(address).await.ok(),
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
                let Ok((stream, _)) = accepted else { return Cut::All };
                while connections.try_join_next().is_some() {}
                match seats.map(Seats::take) {
                    None => drop(connections.spawn(serve(stream, None))),
                    Some(Some(seat)) => drop(connections.spawn(serve(stream, Some(seat)))),
                    Some(None) => drop(stream),
                }
            }
        }
    }
}
