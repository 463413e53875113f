//! Raw TCP: a stream of program messages in, a stream of answers out.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_scpi::{Limits, ProgramDecoder};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;

use super::delivery::{Delivery, Then};
use super::port::{Admission, Connection, Cut, Port};

/// What an instrument takes in one message before it complains of an overrun.
const INPUT_BUFFER: Limits = Limits { text: 64 << 10, block: 1 << 20 };

/// Takes connections until it is dropped. While the link is cut nobody listens, so that new ones are refused.
pub(crate) async fn accept<P: Port>(listener: TcpListener, port: Arc<P>, clock: Clock) {
    let Ok(address) = listener.local_addr() else { return };
    let mut listener = Some(listener);
    let mut connections = JoinSet::new();
    while let Some(open) = listener.take() {
        if listen_until_cut(open, &port, &mut connections, clock).await == Cut::All {
            connections.shutdown().await;
        }
        port.mended().await;
        listener = TcpListener::bind(address).await.ok();
    }
}

/// Takes connections until new ones are refused; says what becomes of the others.
async fn listen_until_cut<P: Port>(
    listener: TcpListener,
    port: &Arc<P>,
    connections: &mut JoinSet<()>,
    clock: Clock,
) -> Cut {
    loop {
        tokio::select! {
            biased;
            cut = port.cut() => return cut,
            accepted = listener.accept() => {
                let Ok((stream, _)) = accepted else { return Cut::All };
                while connections.try_join_next().is_some() {}
                connections.spawn(converse(stream, port.clone(), clock));
            }
        }
    }
}

/// One connection: messages in, answers out, in order. Ends when the client goes.
async fn converse<P: Port>(mut stream: TcpStream, port: Arc<P>, clock: Clock) {
    let connection = match port.admit() {
        Admission::Serve(connection) => connection,
        Admission::Close => return,
        Admission::Ignore => std::future::pending().await,
    };
    let talked = match stream.set_nodelay(true) {
        Ok(()) => talk(&mut stream, &*port, connection, clock).await,
        Err(error) => Err(error),
    };
    port.left(connection);
    if let Ok(Then::Reset) = talked {
        // Closed with nothing lingering, the peer sees a reset.
        drop(socket2::SockRef::from(&stream).set_linger(Some(Duration::ZERO)));
    }
}

/// The conversation on any stream of bytes; says how it ended.
pub(super) async fn talk<S, P>(
    stream: &mut S,
    port: &P,
    connection: Connection,
    clock: Clock,
) -> io::Result<Then>
where
    S: AsyncRead + AsyncWrite + Unpin,
    P: Port,
{
    let mut buffer = BytesMut::with_capacity(4096);
    let mut decoder = ProgramDecoder::new(INPUT_BUFFER);
    loop {
        match decoder.decode(&mut buffer) {
            Ok(Some(message)) => {
                for delivery in port.take(connection, &message).await {
                    deliver(stream, &delivery, clock).await?;
                    if delivery.then != Then::Stay {
                        return Ok(delivery.then);
                    }
                }
            }
            Ok(None) => {
                let known = buffer.len();
                if stream.read_buf(&mut buffer).await? == 0 {
                    return Ok(Then::Close);
                }
                port.hear(connection, &mut buffer[known..]);
            }
            Err(error) => port.unreadable(error),
        }
    }
}

async fn deliver<S: AsyncWrite + Unpin>(stream: &mut S, delivery: &Delivery, clock: Clock) -> io::Result<()> {
    if !delivery.wait.is_zero() {
        clock.sleep(delivery.wait).await;
    }
    match delivery.pieces {
        // One write for one answer: a split one would wait for the peer's acknowledgement.
        None => stream.write_all(&delivery.bytes).await,
        Some((size, gap)) => {
            for piece in delivery.bytes.chunks(size.max(1)) {
                stream.write_all(piece).await?;
                clock.sleep(gap).await;
            }
            Ok(())
        }
    }
}
