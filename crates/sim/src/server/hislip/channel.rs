//! One of the two connections of a session: whole messages in and out.

use std::io;
use std::time::Duration;

use bytes::{Buf, BytesMut};
use spurline_clock::Clock;
use spurline_wire::hislip::{DecodeError, Decoder, FatalKind, HEADER, Message};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::sync::Mutex;

use super::MOST_PAYLOAD;

/// How long, and for how many bytes, a client may go on after it was told that all is over.
const FAREWELL: Duration = Duration::from_secs(1);
const MOST_UNHEARD: usize = 1 << 20;
/// The longest payload that is passed over. One of more has no end that is worth waiting for.
const MOST_PASSED_OVER: u64 = 80 << 20;

/// A connection.
#[derive(Debug)]
pub(super) struct Channel {
    pub(super) reader: Reader,
    pub(super) writer: Writer,
}

/// Its incoming half.
#[derive(Debug)]
pub(super) struct Reader {
    half: OwnedReadHalf,
    buffer: BytesMut,
    decoder: Decoder,
    /// Bytes of a payload that is too large, which are passed over as they come.
    unwanted: u64,
}

/// Its outgoing half; whoever sends has it to himself until the message is out.
#[derive(Debug)]
pub(super) struct Writer(Mutex<OwnedWriteHalf>);

/// Why nothing more can be read.
#[derive(Debug)]
pub(super) enum ChannelError {
    /// The connection failed.
    Io,
    /// A payload is larger than is taken. It is passed over, and what follows can be read.
    TooLarge(String),
    /// What came is not a message.
    Decode(DecodeError),
}

impl Channel {
    pub(super) fn new(stream: TcpStream) -> Self {
        let (read, write) = stream.into_split();
        let reader =
            Reader { half: read, buffer: BytesMut::new(), decoder: Decoder::new(MOST_PAYLOAD), unwanted: 0 };
        Self { reader, writer: Writer(Mutex::new(write)) }
    }

    /// Says why it is over, and ends the connection so that this is still heard.
    pub(super) async fn fatal(mut self, kind: FatalKind, text: &str, clock: Clock) {
        if self.writer.send(&Message::fatal(kind, text)).await.is_ok() {
            self.end(clock).await;
        }
    }

    /// Ends the connection. What the client is still sending is taken off its hands for a while: with something unread
    /// the system would tear the connection down, and what was said last would be lost.
    pub(super) async fn end(&mut self, clock: Clock) {
        if self.writer.0.lock().await.shutdown().await.is_err() {
            return;
        }
        let unheard = async {
            let mut count = 0;
            let mut space = [0; 4096];
            while let Ok(read @ 1..) = self.reader.half.read(&mut space).await {
                count += read;
                if count > MOST_UNHEARD {
                    return;
                }
            }
        };
        // Either way the connection is closed now.
        clock.within(FAREWELL, unheard).await.ok();
    }

    /// Has the connection torn down when it is dropped.
    pub(super) fn reset(&self) {
        super::super::socket::reset(self.reader.half.as_ref());
    }
}

impl Reader {
    /// The next message, or `None` if the client has gone. Nothing is lost if this is dropped half way.
    pub(super) async fn next(&mut self) -> Result<Option<Message>, ChannelError> {
        loop {
            let skipped = self.buffer.len().min(usize::try_from(self.unwanted).unwrap_or(usize::MAX));
            self.buffer.advance(skipped);
            self.unwanted -= skipped as u64;
            if self.unwanted == 0 {
                match self.decoder.decode(&mut self.buffer) {
                    Ok(Some(message)) => return Ok(Some(message)),
                    Ok(None) => {}
                    Err(error @ DecodeError::TooLong { announced, .. }) if announced <= MOST_PASSED_OVER => {
                        // The header is still there.
                        self.buffer.advance(HEADER);
                        self.unwanted = announced;
                        return Err(ChannelError::TooLarge(error.to_string()));
                    }
                    Err(error) => return Err(ChannelError::Decode(error)),
                }
            }
            if self.half.read_buf(&mut self.buffer).await.map_err(|_| ChannelError::Io)? == 0 {
                return Ok(None);
            }
        }
    }
}

impl Writer {
    /// Sends a message whole. Only to be dropped half way together with the connection.
    pub(super) async fn send(&self, message: &Message) -> io::Result<()> {
        self.send_if(message, || true).await
    }

    /// The same if `wanted`, which is asked when nobody else is sending any more.
    pub(super) async fn send_if(&self, message: &Message, wanted: impl Fn() -> bool) -> io::Result<()> {
        let mut half = self.0.lock().await;
        if !wanted() {
            return Ok(());
        }
        let mut bytes = BytesMut::new();
        message.encode(&mut bytes);
        spurline_clock::sent(bytes.len());
        half.write_all(&bytes).await
    }
}
