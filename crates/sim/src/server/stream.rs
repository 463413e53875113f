//! Messages in a stream of bytes, as raw TCP and serial lines carry them.

use std::future::poll_fn;
use std::io;
use std::pin::{Pin, pin};
use std::task::Poll;

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_scpi::ProgramDecoder;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};

use super::INPUT_BUFFER;
use super::delivery::{Delivery, Then};
use super::port::{Connection, Port};
use super::seats::Seat;
use crate::bench::Output;

/// The most bytes that are taken off a client's hands while a message is carried out. Who sends more has not gone.
const AHEAD: usize = 64 << 10;

/// A conversation on a stream of bytes: messages in, answers out, in order. Says how it ended.
///
/// With `seat` given, the client may go at any time: its seat is free then, while what it has sent is still carried
/// out and answered, for it may have closed its own direction only.
pub(super) async fn talk<S, P>(
    stream: &mut S,
    port: &P,
    connection: Connection,
    output: Output,
    clock: Clock,
    mut seat: Option<Option<Seat>>,
) -> io::Result<Then>
where
    S: AsyncRead + AsyncWrite + Unpin + Send,
    P: Port,
{
    let mut buffer = BytesMut::with_capacity(4096);
    let mut decoder = ProgramDecoder::new(INPUT_BUFFER);
    loop {
        match decoder.decode(&mut buffer) {
            Ok(Some(message)) => {
                let known = buffer.len();
                let deliveries = match &mut seat {
                    Some(seat) => {
                        let taken = port.take(connection, &message);
                        while_there(stream, &mut buffer, taken, seat).await
                    }
                    None => port.take(connection, &message).await,
                };
                let answers = !deliveries.is_empty();
                if answers && output == Output::Interrupt && more_has_come(stream, &mut buffer).await? {
                    port.hear(connection, &mut buffer[known..]);
                    port.interrupted();
                    continue;
                }
                port.hear(connection, &mut buffer[known..]);
                for delivery in deliveries {
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

/// Waits for `work`, and gives the seat back if the client goes meanwhile.
async fn while_there<S: AsyncRead + Unpin, T>(
    stream: &mut S,
    buffer: &mut BytesMut,
    work: impl Future<Output = T>,
    seat: &mut Option<Seat>,
) -> T {
    let mut work = pin!(work);
    let mut there = true;
    loop {
        let listens = there && buffer.len() < AHEAD;
        tokio::select! {
            biased;
            done = &mut work => return done,
            read = stream.read_buf(buffer), if listens => {
                there = matches!(read, Ok(1..));
                if !there {
                    drop(seat.take());
                }
            }
        }
    }
}

/// Whether anything but line ends is in the input buffer: IEEE 488.2 calls it an interruption as soon as a byte is
/// there while an answer is.
async fn more_has_come<S: AsyncRead + Unpin>(stream: &mut S, buffer: &mut BytesMut) -> io::Result<bool> {
    let mut space = [0; 1024];
    let mut arrived = ReadBuf::new(&mut space);
    poll_fn(|context| match Pin::new(&mut *stream).poll_read(context, &mut arrived) {
        Poll::Ready(Err(error)) => Poll::Ready(Err(error)),
        Poll::Ready(Ok(())) | Poll::Pending => Poll::Ready(Ok(())),
    })
    .await?;
    buffer.extend_from_slice(arrived.filled());
    Ok(buffer.iter().any(|byte| !byte.is_ascii_whitespace()))
}

async fn deliver<S: AsyncWrite + Unpin>(stream: &mut S, delivery: &Delivery, clock: Clock) -> io::Result<()> {
    if !delivery.wait.is_zero() {
        clock.sleep(delivery.wait).await;
    }
    match delivery.pieces {
        // One write for one answer: a split one would wait for the peer's acknowledgement.
        None => {
            spurline_clock::sent(delivery.bytes.len());
            stream.write_all(&delivery.bytes).await
        }
        Some((size, gap)) => {
            for piece in delivery.bytes.chunks(size.max(1)) {
                spurline_clock::sent(piece.len());
                stream.write_all(piece).await?;
                clock.sleep(gap).await;
            }
            Ok(())
        }
    }
}
