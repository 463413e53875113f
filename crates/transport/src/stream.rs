//! Messages on a stream of bytes: raw TCP, serial lines, in-memory pipes.

use std::future::poll_fn;
use std::pin::Pin;
use std::task::Poll;

use async_trait::async_trait;
use bytes::BytesMut;
use spurline_scpi::{Limits, ResponseDecoder};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};

use crate::link::{Cleared, Framing, Link, LinkError, Received};

const TERMINATOR: u8 = b'\n';

/// A link over a stream of bytes; a message ends with a new line, as IEEE 488.2 has it where there is no END.
#[derive(Debug)]
pub struct StreamLink<S> {
    stream: S,
    received: BytesMut,
    decoder: ResponseDecoder,
    outgoing: Vec<u8>,
}

impl<S> StreamLink<S> {
    /// A link over `stream`.
    pub fn new(stream: S) -> Self {
        Self {
            stream,
            received: BytesMut::with_capacity(8192),
            decoder: ResponseDecoder::new(Limits::default()),
            outgoing: Vec::new(),
        }
    }
}

#[async_trait]
impl<S> Link for StreamLink<S>
where
    S: AsyncRead + AsyncWrite + Unpin + Send + std::fmt::Debug,
{
    fn framing(&self) -> Framing {
        Framing::Stream
    }

    async fn send(&mut self, message: &[u8]) -> Result<(), LinkError> {
        // One write a message: two would wait for each other's acknowledgement on a careless stack.
        self.outgoing.clear();
        self.outgoing.extend_from_slice(message);
        self.outgoing.push(TERMINATOR);
        self.stream.write_all(&self.outgoing).await?;
        Ok(())
    }

    async fn receive(&mut self) -> Result<Received, LinkError> {
        loop {
            if let Some(bytes) = self.decoder.decode(&mut self.received)? {
                return Ok(Received { bytes, end: true });
            }
            if self.stream.read_buf(&mut self.received).await? == 0 {
                return Err(LinkError::Gone);
            }
        }
    }

    async fn unread(&mut self) -> Result<usize, LinkError> {
        let mut space = [0u8; 1024];
        let stream = &mut self.stream;
        let arrived = poll_fn(|context| {
            let mut buffer = ReadBuf::new(&mut space);
            match Pin::new(&mut *stream).poll_read(context, &mut buffer) {
                Poll::Ready(Ok(())) => Poll::Ready(Ok(Some(buffer.filled().len()))),
                Poll::Ready(Err(error)) => Poll::Ready(Err(error)),
                Poll::Pending => Poll::Ready(Ok(None)),
            }
        })
        .await?;
        match arrived {
            Some(0) => Err(LinkError::Gone),
            Some(count) => {
                self.received.extend_from_slice(&space[..count]);
                Ok(self.received.len())
            }
            None => Ok(self.received.len()),
        }
    }

    async fn clear(&mut self) -> Result<Cleared, LinkError> {
        Ok(Cleared::NotPossible)
    }

    async fn status(&mut self) -> Result<Option<u8>, LinkError> {
        Ok(None)
    }
}
