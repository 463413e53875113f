//! What is on its way out, and when the next message may follow.

use std::time::Duration;

use bytes::{Buf, BytesMut};
use spurline_clock::{Clock, Moment};
use tokio::io::{AsyncWrite, AsyncWriteExt};

use crate::link::LinkError;

/// Bytes that must go out whole and in order. A writer that is dropped half way leaves the rest here: half a message
/// followed by another one would be read as something that nobody wrote.
#[derive(Debug, Default)]
pub(crate) struct Outgoing(BytesMut);

impl Outgoing {
    /// Where the next bytes are added.
    pub(crate) fn buffer(&mut self) -> &mut BytesMut {
        &mut self.0
    }

    /// Whether everything is out.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Writes all of it. Never flushes: on a serial port that would wait for the wire.
    pub(crate) async fn write(&mut self, stream: &mut (impl AsyncWrite + Unpin)) -> Result<(), LinkError> {
        while self.0.has_remaining() {
            spurline_clock::sent(self.0.remaining());
            if stream.write_buf(&mut self.0).await? == 0 {
                return Err(LinkError::Gone);
            }
        }
        Ok(())
    }
}

/// The rest that an instrument needs between messages.
#[derive(Debug)]
pub(crate) struct Rest {
    pause: Duration,
    last: Option<Moment>,
}

impl Rest {
    pub(crate) fn new(pause: Duration) -> Self {
        Self { pause, last: None }
    }

    /// Waits until the next message may be sent.
    pub(crate) async fn over(&self, clock: Option<Clock>) {
        if let (Some(clock), Some(last)) = (clock, self.last) {
            clock.sleep_until(last.after(self.pause)).await;
        }
    }

    /// A message has just passed, either way.
    pub(crate) fn begins(&mut self, clock: Option<Clock>) {
        if !self.pause.is_zero() {
            self.last = clock.map(|clock| clock.now());
        }
    }
}
