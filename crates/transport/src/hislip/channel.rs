//! One of the two connections of a HiSLIP session.

use bytes::BytesMut;
use spurline_wire::hislip::{Decoder, Message};
use tokio::io::AsyncReadExt;
use tokio::net::TcpStream;

use super::PROTOCOL;
use crate::answer::MOST;
use crate::link::LinkError;
use crate::outgoing::Outgoing;
use crate::step::Steps;

const ROOM: usize = 8192;

#[derive(Debug)]
pub(super) struct Channel {
    stream: TcpStream,
    outgoing: Outgoing,
    received: BytesMut,
    decoder: Decoder,
    steps: Steps,
}

impl Channel {
    pub(super) fn new(stream: TcpStream, steps: &Steps) -> Self {
        Self {
            stream,
            outgoing: Outgoing::default(),
            received: BytesMut::new(),
            decoder: Decoder::new(MOST),
            steps: steps.clone(),
        }
    }

    /// Adds a message to what is to be written.
    pub(super) fn push(&mut self, message: &Message) {
        message.encode(self.outgoing.buffer());
    }

    /// Writes what is to be written; may be dropped half way.
    pub(super) async fn write(&mut self) -> Result<(), LinkError> {
        self.outgoing.write(&mut self.stream).await
    }

    /// The next message; may be dropped half way.
    pub(super) async fn next(&mut self) -> Result<Message, LinkError> {
        loop {
            let decoded = self.decoder.decode(&mut self.received);
            if let Some(message) = decoded.map_err(|error| self.steps.protocol(PROTOCOL, error))? {
                return Ok(message);
            }
            // Where a header announced more, the decoder has made room already.
            if self.received.capacity() == self.received.len() {
                self.received.reserve(ROOM);
            }
            if self.stream.read_buf(&mut self.received).await? == 0 {
                return Err(LinkError::Gone);
            }
        }
    }
}
