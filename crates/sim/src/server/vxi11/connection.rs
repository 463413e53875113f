//! Calls in and replies out on one connection.

use std::future::Future;
use std::io;
use std::pin::pin;
use std::time::Duration;

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use tokio::io::{AsyncReadExt, AsyncWriteExt, Interest};
use tokio::net::TcpStream;
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};

use super::MOST_RECEIVE;
use crate::server::socket::reset;

/// How often it is looked whether a client has gone that is not listened to.
const LOOK_AGAIN: Duration = Duration::from_millis(100);
/// The longest record: a full write and what stands around its data.
const LONGEST: usize = MOST_RECEIVE as usize + 1024;

/// A connection.
pub(super) struct Connection {
    reader: OwnedReadHalf,
    writer: OwnedWriteHalf,
    buffer: BytesMut,
    decoder: RecordDecoder,
}

impl Connection {
    pub(super) fn new(stream: TcpStream) -> io::Result<Self> {
        stream.set_nodelay(true)?;
        let (reader, writer) = stream.into_split();
        Ok(Self { reader, writer, buffer: BytesMut::new(), decoder: RecordDecoder::new(LONGEST) })
    }

    /// The next call; `None` if the client has gone, or sends something else.
    pub(super) async fn call(&mut self) -> Option<Call> {
        loop {
            if let Some(record) = self.decoder.decode(&mut self.buffer).ok()? {
                return Call::decode(record).ok();
            }
            if self.reader.read_buf(&mut self.buffer).await.ok()? == 0 {
                return None;
            }
        }
    }

    /// Waits for `work`; `None` if the client goes before it is done. What else it sends meanwhile is kept for later.
    pub(super) async fn during<T>(&mut self, work: impl Future<Output = T>, clock: Clock) -> Option<T> {
        let mut work = pin!(work);
        loop {
            let room = self.buffer.len() < LONGEST;
            tokio::select! {
                biased;
                done = &mut work => return Some(done),
                there = listen(&mut self.reader, &mut self.buffer, room, clock) => {
                    if !there {
                        return None;
                    }
                }
            }
        }
    }

    /// Sends the reply to a call.
    pub(super) async fn reply(&mut self, xid: u32, outcome: Outcome) -> io::Result<()> {
        let record = Reply { xid, outcome }.encode().map_err(io::Error::other)?;
        spurline_clock::sent(record.len());
        self.writer.write_all(&record).await
    }

    /// Has the connection torn down when it is dropped.
    pub(super) fn reset(&self) {
        reset(self.reader.as_ref());
    }
}

/// Waits for more from the client, and takes it if there is `room`; whether the client is still there.
async fn listen(reader: &mut OwnedReadHalf, into: &mut BytesMut, room: bool, clock: Clock) -> bool {
    if room {
        return matches!(reader.read_buf(into).await, Ok(1..));
    }
    // What is unread hides the end of the stream from whoever does not read on; the system knows of it.
    clock.sleep(LOOK_AGAIN).await;
    reader.ready(Interest::READABLE).await.is_ok_and(|ready| !ready.is_read_closed())
}
