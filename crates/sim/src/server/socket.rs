//! Raw TCP: a stream of program messages in, a stream of answers out.

use std::sync::Arc;
use std::time::Duration;

use spurline_clock::Clock;
use tokio::net::{TcpListener, TcpStream};

use super::delivery::Then;
use super::port::{Admission, Guest, Port};
use super::seats::{Seat, Seats};
use super::{listener, stream};
use crate::bench::Output;

/// Serves an instrument on a raw stream until it is dropped.
pub(super) async fn serve<P: Port>(
    listener: TcpListener,
    port: Arc<P>,
    seats: Arc<Seats>,
    output: Output,
    clock: Clock,
) {
    let served = port.clone();
    listener::accept(listener, port, Some(seats), clock, |stream, seat| {
        converse(stream, served.clone(), output, clock, seat)
    })
    .await;
}

/// One connection. Ends when the client goes.
async fn converse<P: Port>(
    mut stream: TcpStream,
    port: Arc<P>,
    output: Output,
    clock: Clock,
    seat: Option<Seat>,
) {
    let connection = match port.admit() {
        Admission::Serve(connection) => connection,
        Admission::Close => return,
        Admission::Ignore => std::future::pending().await,
    };
    let guest = Guest::of(&port, connection);
    let talked = match stream.set_nodelay(true) {
        Ok(()) => stream::talk(&mut stream, &*port, connection, output, clock, Some(seat)).await,
        Err(error) => Err(error),
    };
    drop(guest);
    if let Ok(Then::Reset) = talked {
        reset(&stream);
    }
}

/// Closed with nothing lingering, the peer sees a reset.
pub(super) fn reset(stream: &TcpStream) {
    drop(socket2::SockRef::from(stream).set_linger(Some(Duration::ZERO)));
}
