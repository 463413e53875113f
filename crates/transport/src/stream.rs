//! Messages on a stream of bytes: raw TCP, serial lines, in-memory pipes.

mod head;

use std::time::Duration;

use async_trait::async_trait;
use bytes::{BufMut, Bytes, BytesMut};
use spurline_clock::Clock;
use spurline_scpi::{Limits, Message, ResponseDecoder};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite};

use crate::link::{Cleared, Framing, Link, LinkError, Received};
use crate::outgoing::{Outgoing, Rest};
use crate::settings::{AnswersEnd, LinkSettings, Terminator};
use crate::step::at_once;
use head::Head;

/// How long a terminator is waited for behind a block. IEEE 488.2 wants one there; some instruments send none.
const BEHIND_BLOCK: Duration = Duration::from_millis(50);
/// The room that is made for what comes, and the room below which that is done.
const ROOM: usize = 8192;
const LEAST_ROOM: usize = 1024;

/// A link over a stream of bytes. A message ends with a terminator, as IEEE 488.2 has it where there is no END, or
/// with silence, as [`LinkSettings`] say.
#[derive(Debug)]
pub struct StreamLink<S> {
    stream: S,
    clock: Option<Clock>,
    terminator: Terminator,
    answers_end: AnswersEnd,
    rest: Rest,
    outgoing: Outgoing,
    head: Head,
    /// What has come and was not looked at yet; used only where an answer may end with a carriage return.
    waiting: BytesMut,
    received: BytesMut,
    decoder: ResponseDecoder,
    /// The last message, to be counted for its queries where that matters.
    asked: Vec<u8>,
    /// What could not be read, until somebody asks for it.
    unreadable: BytesMut,
}

impl<S> StreamLink<S> {
    /// A link over `stream` on which every message ends with a new line, and nothing is waited for in vain.
    pub fn new(stream: S) -> Self {
        Self::build(stream, &LinkSettings::default(), None)
    }

    /// A link over `stream` to an instrument of some other dialect.
    pub fn with(stream: S, settings: &LinkSettings, clock: Clock) -> Self {
        Self::build(stream, settings, Some(clock))
    }

    fn build(stream: S, settings: &LinkSettings, clock: Option<Clock>) -> Self {
        Self {
            stream,
            clock,
            terminator: settings.terminator,
            answers_end: settings.answers_end,
            rest: Rest::new(settings.pause),
            outgoing: Outgoing::default(),
            head: Head::new(settings.echo, &settings.prompt),
            waiting: BytesMut::new(),
            received: BytesMut::with_capacity(ROOM),
            decoder: ResponseDecoder::new(Limits::default()),
            asked: Vec::new(),
            unreadable: BytesMut::new(),
        }
    }

    /// Whether a carriage return may end an answer.
    fn ends_with_cr(&self) -> bool {
        self.terminator == Terminator::Cr && self.answers_end == AnswersEnd::Terminator
    }

    /// The next answer, if it is there.
    fn answer(&mut self) -> Result<Option<Bytes>, LinkError> {
        if !self.ends_with_cr() {
            return self.decoded();
        }
        // The decoder knows new lines only. A carriage return ends the answer unless it is data of a block or of a
        // string, and that shows when the answer is taken for whole there.
        loop {
            let Some(at) = self.waiting.iter().position(|&b| b == b'\r') else {
                self.received.unsplit(self.waiting.split());
                return self.decoded();
            };
            self.received.unsplit(self.waiting.split_to(at + 1));
            if let Some(bytes) = self.decoded()? {
                return Ok(Some(bytes));
            }
            if self.head.is_passed()
                && let Ok(Some(bytes)) = self.decoder.finish(&mut self.received)
            {
                return Ok(Some(self.taken(bytes)));
            }
        }
    }

    fn decoded(&mut self) -> Result<Option<Bytes>, LinkError> {
        if !self.head.pass(&mut self.received)? {
            return Ok(None);
        }
        let whole = self.decoder.decode(&mut self.received)?;
        Ok(whole.map(|bytes| self.taken(bytes)))
    }

    fn taken(&mut self, bytes: Bytes) -> Bytes {
        if self.ends_with_cr() {
            // What is left behind a new line may have ends of its own.
            let mut left = self.received.split();
            left.unsplit(self.waiting.split());
            self.waiting = left;
        }
        self.head.next();
        self.rest.begins(self.clock);
        bytes
    }

    /// How long it takes until what has come is the whole answer; `None`: that is not known.
    fn quiet(&self) -> Option<Duration> {
        if !self.head.is_passed() || self.received.is_empty() {
            return None;
        }
        match self.answers_end {
            AnswersEnd::Silence(quiet) => Some(quiet),
            // With more queries than one, something is bound to follow the block, whenever it is ready.
            AnswersEnd::Terminator => {
                (self.decoder.ends_with_block() && queries(&self.asked) <= 1).then_some(BEHIND_BLOCK)
            }
        }
    }

    /// Makes room for the next bytes: for the rest of an announced block at once, so that it is read in large pieces
    /// and never moved.
    fn make_room(&mut self) {
        let missing = match self.decoder.progress().block {
            Some((found, announced)) if found < announced => Some(announced - found),
            Some(_) | None => None,
        };
        let buffer = if self.ends_with_cr() { &mut self.waiting } else { &mut self.received };
        let spare = buffer.capacity() - buffer.len();
        if spare < missing.unwrap_or(LEAST_ROOM) {
            // Texts come without a length: their room is doubled.
            buffer.reserve(missing.map_or(ROOM.max(buffer.len()), |missing| missing + ROOM));
        }
    }

    /// After bytes that make no sense, what has come of them is of no use.
    fn start_afresh(&mut self) {
        self.waiting.clear();
        self.received.clear();
        self.decoder.reset();
        self.head.next();
    }
}

/// How many answers a message asks for.
fn queries(message: &[u8]) -> usize {
    let text = std::str::from_utf8(message).ok();
    text.and_then(|text| Message::new().compound(text).ok()).map_or(1, |message| message.queries())
}

impl<S: AsyncRead + AsyncWrite + Unpin> StreamLink<S> {
    async fn read(&mut self) -> Result<(), LinkError> {
        self.make_room();
        let buffer = if self.ends_with_cr() { &mut self.waiting } else { &mut self.received };
        match self.stream.read_buf(buffer).await? {
            0 => Err(LinkError::Gone),
            _ => Ok(()),
        }
    }

    /// Reads on; `false` if nothing came for so long that the answer is whole.
    async fn read_on(&mut self) -> Result<bool, LinkError> {
        match (self.clock, self.quiet()) {
            (Some(clock), Some(quiet)) => match clock.within(quiet, self.read()).await {
                Ok(read) => read.map(|()| true),
                Err(_) => Ok(false),
            },
            _ => self.read().await.map(|()| true),
        }
    }

    async fn whole_answer(&mut self) -> Result<Bytes, LinkError> {
        loop {
            if let Some(bytes) = self.answer()? {
                return Ok(bytes);
            }
            if !self.read_on().await?
                && let Some(bytes) = self.decoder.finish(&mut self.received)?
            {
                return Ok(self.taken(bytes));
            }
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
        self.rest.over(self.clock).await;
        // One write a message: two would wait for each other's acknowledgement on a careless stack.
        let out = self.outgoing.buffer();
        out.put_slice(message);
        out.put_slice(self.terminator.bytes());
        self.head.sent(message);
        self.asked.clear();
        self.asked.extend_from_slice(message);
        self.outgoing.write(&mut self.stream).await?;
        self.rest.begins(self.clock);
        Ok(())
    }

    async fn receive(&mut self) -> Result<Received, LinkError> {
        match self.whole_answer().await {
            Ok(bytes) => Ok(Received { bytes, end: true }),
            Err(error) => {
                self.unreadable = self.received.split();
                self.start_afresh();
                Err(error)
            }
        }
    }

    async fn unread(&mut self) -> Result<usize, LinkError> {
        // Once is enough to know that something is there.
        at_once(self.read()).await.transpose()?;
        if self.ends_with_cr() {
            self.received.unsplit(self.waiting.split());
        }
        self.head.pass(&mut self.received)?;
        let begun = self.head.is_passed();
        Ok(if begun { self.received.len() } else { 0 })
    }

    fn unreadable(&mut self) -> Bytes {
        self.unreadable.split().freeze()
    }

    async fn clear(&mut self) -> Result<Cleared, LinkError> {
        Ok(Cleared::NotPossible)
    }

    async fn status(&mut self) -> Result<Option<u8>, LinkError> {
        Ok(None)
    }
}
