//! TCP connections, with the socket options that keep them quick and tell a dead peer.

use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use spurline_clock::Clock;
use tokio::net::TcpStream;

use crate::address::Host;
use crate::link::LinkError;

const KEEPALIVE_IDLE: Duration = Duration::from_secs(10);
const KEEPALIVE_EVERY: Duration = Duration::from_secs(5);
const KEEPALIVE_TIMES: u32 = 3;
const UNACKNOWLEDGED_FOR: Duration = Duration::from_secs(15);

pub(crate) async fn dial(
    host: &str,
    port: u16,
    within: Duration,
    clock: Clock,
) -> Result<TcpStream, LinkError> {
    let address = || format!("{}:{port}", Host(host));
    spurline_clock::sent(0);
    let stream = match clock.within(within, TcpStream::connect((host, port))).await {
        Err(_) => return Err(LinkError::NoAnswer { address: address(), seconds: within.as_secs_f64() }),
        Ok(Err(source)) => return Err(LinkError::Connect { address: address(), source }),
        Ok(Ok(stream)) => stream,
    };
    clock.hears(&stream);
    // With Nagle's algorithm on, a write behind an unacknowledged write waits some 40 ms.
    stream.set_nodelay(true)?;
    let socket = SockRef::from(&stream);
    // Keepalive finds a dead peer while the link is idle, the user timeout while data is unacknowledged.
    let keepalive = TcpKeepalive::new().with_time(KEEPALIVE_IDLE).with_interval(KEEPALIVE_EVERY);
    #[cfg(not(target_os = "openbsd"))]
    let keepalive = keepalive.with_retries(KEEPALIVE_TIMES);
    socket.set_tcp_keepalive(&keepalive)?;
    #[cfg(target_os = "linux")]
    socket.set_tcp_user_timeout(Some(UNACKNOWLEDGED_FOR))?;
    Ok(stream)
}

#[cfg(test)]
mod tests {
    use spurline_clock::{Pace, run};
    use tokio::net::TcpListener;

    use super::*;

    #[test]
    fn a_dead_peer_will_be_found_out() {
        run(Pace::Fast, |clock| async move {
            let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
            let port = listener.local_addr().unwrap().port();
            let stream = dial("127.0.0.1", port, Duration::from_secs(4), clock).await.unwrap();
            let socket = SockRef::from(&stream);
            assert!(stream.nodelay().unwrap() && socket.keepalive().unwrap());
            assert_eq!(socket.tcp_keepalive_time().unwrap(), KEEPALIVE_IDLE);
            assert_eq!(socket.tcp_keepalive_interval().unwrap(), KEEPALIVE_EVERY);
            assert_eq!(socket.tcp_keepalive_retries().unwrap(), KEEPALIVE_TIMES);
            #[cfg(target_os = "linux")]
            assert_eq!(socket.tcp_user_timeout().unwrap(), Some(UNACKNOWLEDGED_FOR));
        })
        .unwrap();
    }

    #[test]
    fn a_closed_port_says_where() {
        run(Pace::Fast, |clock| async move {
            let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
            let port = listener.local_addr().unwrap().port();
            drop(listener);
            let error = dial("127.0.0.1", port, Duration::from_secs(4), clock).await.unwrap_err();
            assert_eq!(error.to_string(), format!("cannot connect to 127.0.0.1:{port}"));
        })
        .unwrap();
    }
}
