//! Remote procedure calls over one connection: several may be under way, and each reply names its call.

use bytes::{Bytes, BytesMut};
use spurline_wire::rpc::{Call, RecordDecoder, Reply};
use tokio::io::AsyncReadExt;
use tokio::net::TcpStream;

use crate::link::LinkError;
use crate::outgoing::Outgoing;
use crate::step::Steps;

const PROTOCOL: &str = "VXI-11";
const ROOM: usize = 8192;

/// The program that is called.
#[derive(Clone, Copy, Debug)]
pub(super) struct Program {
    pub(super) number: u32,
    pub(super) version: u32,
}

/// A reply to some call.
#[derive(Debug)]
pub(super) struct Replied {
    pub(super) xid: u32,
    pub(super) results: Bytes,
}

#[derive(Debug)]
pub(super) struct Calls {
    stream: TcpStream,
    program: Program,
    outgoing: Outgoing,
    received: BytesMut,
    decoder: RecordDecoder,
    last: u32,
    steps: Steps,
}

impl Calls {
    /// Calls of `program` over `stream`, with replies of at most `limit` bytes.
    pub(super) fn new(stream: TcpStream, program: Program, limit: usize, steps: &Steps) -> Self {
        Self {
            stream,
            program,
            outgoing: Outgoing::default(),
            received: BytesMut::new(),
            decoder: RecordDecoder::new(limit),
            last: 0,
            steps: steps.clone(),
        }
    }

    pub(super) fn steps(&self) -> &Steps {
        &self.steps
    }

    pub(super) fn protocol(&self, source: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> LinkError {
        self.steps.protocol(PROTOCOL, source)
    }

    fn encode(&mut self, procedure: u32, arguments: Bytes) -> Result<(u32, Vec<u8>), LinkError> {
        self.last = self.last.wrapping_add(1);
        let Program { number: program, version } = self.program;
        let call = Call { xid: self.last, program, version, procedure, arguments };
        Ok((self.last, call.encode().map_err(|error| self.protocol(error))?))
    }

    /// Adds a call to what is to be written; the number that its reply will bear.
    pub(super) fn push(&mut self, procedure: u32, arguments: Bytes) -> Result<u32, LinkError> {
        let (xid, bytes) = self.encode(procedure, arguments)?;
        self.outgoing.buffer().extend_from_slice(&bytes);
        Ok(xid)
    }

    /// Writes what is to be written and waits for the next reply; may be dropped half way.
    pub(super) async fn next(&mut self) -> Result<Replied, LinkError> {
        self.outgoing.write(&mut self.stream).await?;
        loop {
            let decoded = self.decoder.decode(&mut self.received);
            if let Some(record) = decoded.map_err(|error| self.protocol(error))? {
                let reply = Reply::decode(record).map_err(|error| self.protocol(error))?;
                let refused = |why| self.steps.refused("a call", why, true);
                return Ok(Replied { xid: reply.xid, results: reply.outcome.results().map_err(refused)? });
            }
            // Where a mark announced more, the decoder has made room already.
            if self.received.capacity() == self.received.len() {
                self.received.reserve(ROOM);
            }
            if self.stream.read_buf(&mut self.received).await? == 0 {
                return Err(LinkError::Gone);
            }
        }
    }

    /// Makes one call on a fresh connection and waits for its results.
    pub(super) async fn ask(
        &mut self,
        asked: &'static str,
        procedure: u32,
        arguments: Bytes,
    ) -> Result<Bytes, LinkError> {
        let xid = self.push(procedure, arguments)?;
        let steps = self.steps.clone();
        let results = steps.wait(asked, async {
            loop {
                let reply = self.next().await?;
                if reply.xid == xid {
                    return Ok(reply.results);
                }
            }
        });
        results.await
    }

    /// Makes a last call without waiting for anything.
    pub(super) fn send_if_possible(&mut self, procedure: u32, arguments: Bytes) {
        if !self.outgoing.is_empty() {
            return;
        }
        if let Ok((_, bytes)) = self.encode(procedure, arguments) {
            spurline_clock::sent(bytes.len());
            // That it does not go out is no loss: the connection is closed next.
            drop(self.stream.try_write(&bytes));
        }
    }
}
