//! Messages in a stream of bytes, as raw TCP and serial lines carry them.

use std::future::poll_fn;
use std::io;
use std::pin::Pin;
use std::task::Poll;

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_scpi::ProgramDecoder;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};

use super::INPUT_BUFFER;
use super::delivery::{Delivery, Then};
use super::port::{Connection, Port};
use crate::bench::Output;

/// A conversation on a stream of bytes: messages in, answers out, in order. Says how it ended.
pub(super) async fn talk<S, P>(
    stream: &mut S,
    port: &P,
    connection: Connection,
    output: Output,
    clock: Clock,
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
                let deliveries = port.take(connection, &message).await;
                let answers = !deliveries.is_empty();
                let known = buffer.len();
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
