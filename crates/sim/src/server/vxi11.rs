//! VXI-11: an instrument as a program of remote procedures, on a core channel and an abort channel.
//!
//! No port mapper is served: that would need the right to listen on port 111. The interrupt channel is not offered.
//! Clause numbers are cited from memory.

mod abort;
mod connection;
mod core;
mod hub;
mod link;
mod output;

use std::sync::Arc;

use spurline_clock::Clock;
use tokio::net::TcpListener;

use super::listener;
use super::port::Port;
use super::seats::Seats;
use hub::Hub;

/// The most bytes of one write.
const MOST_RECEIVE: u32 = 1 << 16;

/// Where the two channels are served.
pub(super) struct Listeners {
    pub(super) core: TcpListener,
    pub(super) abort: TcpListener,
}

/// Serves an instrument until it is dropped; `device` is the name that clients must give.
pub(super) async fn serve<P: Port>(
    listeners: Listeners,
    port: Arc<P>,
    seats: Arc<Seats>,
    device: String,
    clock: Clock,
) {
    let Listeners { core, abort } = listeners;
    let Ok(abort_at) = abort.local_addr() else { return };
    let hub = Arc::new(Hub::new(port.clone(), seats, device, abort_at.port(), clock));
    // A client may have several links on a connection, so that it is counted by its links and not here.
    let cores =
        listener::accept(core, port.clone(), None, clock, |stream, _| core::converse(stream, hub.clone()));
    let aborts = listener::accept(abort, port, None, clock, |stream, _| abort::converse(stream, hub.clone()));
    tokio::join!(cores, aborts);
}
