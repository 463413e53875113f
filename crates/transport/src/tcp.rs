//! Raw TCP, with the socket options that keep it quick and tell a dead peer.

use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use spurline_clock::Clock;
use tokio::net::TcpStream;

use crate::link::LinkError;
use crate::stream::StreamLink;

const CONNECT_WITHIN: Duration = Duration::from_secs(4);
const KEEPALIVE_IDLE: Duration = Duration::from_secs(10);
const KEEPALIVE_EVERY: Duration = Duration::from_secs(5);
const UNACKNOWLEDGED_FOR: Duration = Duration::from_secs(15);

pub(crate) async fn connect(host: &str, port: u16, clock: Clock) -> Result<StreamLink<TcpStream>, LinkError> {
    let address = format!("{host}:{port}");
    let attempt = clock.within(CONNECT_WITHIN, TcpStream::connect((host, port))).await;
    let stream = match attempt {
        Err(_) => return Err(LinkError::NoAnswer { address, seconds: CONNECT_WITHIN.as_secs_f64() }),
        Ok(Err(source)) => return Err(LinkError::Connect { address, source }),
        Ok(Ok(stream)) => stream,
    };
    // With Nagle's algorithm on, a write behind an unacknowledged write waits some 40 ms.
    stream.set_nodelay(true)?;
    let socket = SockRef::from(&stream);
    // Keepalive finds a dead peer while the link is idle, the user timeout while data is unacknowledged.
    socket
        .set_tcp_keepalive(&TcpKeepalive::new().with_time(KEEPALIVE_IDLE).with_interval(KEEPALIVE_EVERY))?;
    #[cfg(target_os = "linux")]
    socket.set_tcp_user_timeout(Some(UNACKNOWLEDGED_FOR))?;
    Ok(StreamLink::new(stream))
}
