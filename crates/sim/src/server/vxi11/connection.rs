//! Calls in and replies out on one connection.

use std::future::Future;
use std::io;
use std::pin::pin;

use bytes::BytesMut;
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};

use super::MOST_RECEIVE;
use crate::server::socket::reset;

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
    pub(super) async fn during<T>(&mut self, work: impl Future<Output = T>) -> Option<T> {
        let mut work = pin!(work);
        loop {
            let room = self.buffer.len() < LONGEST;
            tokio::select! {
                biased;
                done = &mut work => return Some(done),
                read = self.reader.read_buf(&mut self.buffer), if room => {
                    if read.ok()? == 0 {
                        return None;
                    }
                }
            }
        }
    }

    /// Sends the reply to a call.
    pub(super) async fn reply(&mut self, xid: u32, outcome: Outcome) -> io::Result<()> {
        let record = Reply { xid, outcome }.encode().map_err(io::Error::other)?;
        self.writer.write_all(&record).await
    }

    /// Has the connection torn down when it is dropped.
    pub(super) fn reset(&self) {
        reset(self.reader.as_ref());
    }
}
