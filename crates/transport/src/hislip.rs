//! HiSLIP (IVI-6.1) on the client's side, synchronised: an answer belongs to the message whose identity it bears.

mod channel;
mod open;

use std::collections::VecDeque;

use async_trait::async_trait;
use bytes::{Bytes, BytesMut};
use spurline_wire::hislip::{
    ANY_MESSAGE, DELIVERED, FIRST_MESSAGE, FatalKind, HEADER, Kind, Message, OVERLAPPED, next_message,
};

use crate::answer::{MOST, without_terminator};
use crate::link::{Cleared, Framing, Link, LinkError, Received};
use crate::outgoing::Rest;
use crate::settings::Terminator;
use crate::step::{Steps, at_once, words};
use channel::Channel;

pub(crate) use open::open;

/// Answers that wait to be handed out; a server sends one for each message that asks.
const MOST_WAITING: usize = 256;
const PROTOCOL: &str = "HiSLIP";
/// Stands for the last message while none has been sent.
const BEFORE_FIRST: u32 = FIRST_MESSAGE - 2;

/// How far a device clear has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Clearing {
    No,
    /// Until the second connection acknowledges.
    Beside,
    /// Until the first one does.
    Main,
}

/// A session with a device behind a HiSLIP server.
#[derive(Debug)]
pub(crate) struct HislipLink {
    steps: Steps,
    terminator: Terminator,
    rest: Rest,
    main: Channel,
    beside: Channel,
    /// The most bytes of a payload that the server takes.
    most_sent: usize,
    /// The identity of the next message, and that of the last one whose answer may come.
    next: u32,
    asked: u32,
    /// Whether an answer was handed out since the server was last told so.
    delivered: bool,
    parts: BytesMut,
    whole: VecDeque<Bytes>,
    /// `Interrupted` and `AsyncInterrupted` come in pairs, and nothing is sent between the two.
    interrupted: u64,
    interrupted_beside: u64,
    /// Answers to `AsyncStatusQuery` that are still to come; the last one is that of the last query.
    statuses: u64,
    clearing: Clearing,
}

impl HislipLink {
    /// An answer, if this message of the first connection completes one.
    fn take(&mut self, message: Message) -> Result<(), LinkError> {
        let of_asked = message.parameter == self.asked;
        match message.kind {
            Kind::Data | Kind::DataEnd => {
                let unknown = message.kind == Kind::Data && message.parameter == ANY_MESSAGE;
                let stale = self.interrupted < self.interrupted_beside || !(of_asked || unknown);
                if stale {
                    self.parts.clear();
                    return Ok(());
                }
                if self.held() + message.payload.len() > MOST {
                    return Err(LinkError::TooLong { limit: MOST });
                }
                if self.whole.len() >= MOST_WAITING {
                    let flood = format!("expected one answer to a message, found more than {MOST_WAITING}");
                    return Err(self.steps.protocol(PROTOCOL, flood));
                }
                if message.kind == Kind::DataEnd {
                    let whole = if self.parts.is_empty() {
                        message.payload
                    } else {
                        self.parts.extend_from_slice(&message.payload);
                        self.parts.split().freeze()
                    };
                    self.whole.push_back(whole);
                } else {
                    self.parts.extend_from_slice(&message.payload);
                }
                Ok(())
            }
            Kind::Interrupted => {
                self.interrupted += 1;
                self.parts.clear();
                // The message that interrupts is named. If that is the last one, what was dropped is the answer to an
                // earlier one, which nobody waits for any more.
                if of_asked { Ok(()) } else { Err(LinkError::Interrupted) }
            }
            _ => self.complaint(&message),
        }
    }

    /// A message of the second connection; the status byte, if it is the one that was asked for last.
    fn take_beside(&mut self, message: &Message) -> Result<Option<u8>, LinkError> {
        match message.kind {
            Kind::AsyncInterrupted => {
                self.interrupted_beside += 1;
                self.parts.clear();
                Ok(None)
            }
            Kind::AsyncStatusResponse if self.statuses > 0 => {
                self.statuses -= 1;
                Ok((self.statuses == 0).then_some(message.control))
            }
            kind => {
                // A query that is refused gets no other answer.
                if kind == Kind::Error {
                    self.statuses = self.statuses.saturating_sub(1);
                }
                self.complaint(message).map(|()| None)
            }
        }
    }

    /// The bytes that have come and that nobody has fetched.
    fn held(&self) -> usize {
        self.parts.len() + self.whole.iter().map(Bytes::len).sum::<usize>()
    }

    /// What the server says that went wrong. A request for service and messages that nobody waits for are no complaint.
    fn complaint(&self, message: &Message) -> Result<(), LinkError> {
        complaint(&self.steps, "a message", message)
    }

    /// Reads one message of either connection.
    async fn read(&mut self) -> Result<Option<u8>, LinkError> {
        tokio::select! {
            biased;
            message = self.main.next() => self.take(message?).map(|()| None),
            message = self.beside.next() => self.take_beside(&message?),
        }
    }

    /// Waits until what was interrupted is so on both connections.
    async fn settle(&mut self) -> Result<(), LinkError> {
        let steps = self.steps.clone();
        while self.interrupted != self.interrupted_beside {
            match steps.wait("both signs of an interruption", self.read()).await {
                Ok(_) | Err(LinkError::Interrupted) => {}
                Err(error) => return Err(error),
            }
            // Nobody fetches an answer of before the interruption, however much comes.
            self.parts.clear();
            self.whole.clear();
        }
        Ok(())
    }

    /// Goes on with a device clear wherever it stands.
    async fn go_on_clearing(&mut self) -> Result<(), LinkError> {
        let steps = self.steps.clone();
        if self.clearing == Clearing::Beside {
            steps
                .wait("an acknowledgement of a device clear", async {
                    self.beside.write().await?;
                    loop {
                        let message = self.beside.next().await?;
                        if message.kind == Kind::AsyncDeviceClearAcknowledge {
                            return Ok(());
                        }
                        ended(&steps, &message)?;
                    }
                })
                .await?;
            // Synchronised, whatever the server would prefer.
            self.main.push(&Message::bare(Kind::DeviceClearComplete, 0, 0));
            self.clearing = Clearing::Main;
        }
        if self.clearing == Clearing::Main {
            let agreed = steps
                .wait("the end of a device clear", async {
                    self.main.write().await?;
                    loop {
                        let message = self.main.next().await?;
                        if message.kind == Kind::DeviceClearAcknowledge {
                            return Ok(message.control);
                        }
                        ended(&steps, &message)?;
                    }
                })
                .await?;
            if agreed & OVERLAPPED != 0 {
                return Err(steps.refused("synchronised answers", "it answers overlapped only", true));
            }
            self.next = FIRST_MESSAGE;
            self.asked = BEFORE_FIRST;
            self.delivered = false;
            self.parts.clear();
            self.whole.clear();
            (self.interrupted, self.interrupted_beside, self.statuses) = (0, 0, 0);
            self.clearing = Clearing::No;
        }
        Ok(())
    }

    fn said_delivered(&mut self) -> u8 {
        if std::mem::take(&mut self.delivered) { DELIVERED } else { 0 }
    }
}

/// What ends the session while a device clear is under way. Any other complaint is about what is being cleared.
fn ended(steps: &Steps, message: &Message) -> Result<(), LinkError> {
    if message.kind == Kind::FatalError { complaint(steps, "a device clear", message) } else { Ok(()) }
}

fn complaint(steps: &Steps, asked: &'static str, message: &Message) -> Result<(), LinkError> {
    let code = message.control;
    let said = words(&message.payload);
    let said = if said.is_empty() { "it gave no reason".to_owned() } else { said };
    match message.kind {
        Kind::FatalError => {
            let why = format!("{said} (fatal error {code})");
            Err(match FatalKind::from(code) {
                FatalKind::Clients => {
                    steps.busy(asked, format!("{why}\nend another program that is connected to it"))
                }
                FatalKind::Unidentified
                | FatalKind::Header
                | FatalKind::Channels
                | FatalKind::Initialization
                | FatalKind::Other(_) => steps.refused(asked, why, true),
            })
        }
        Kind::Error => Err(steps.refused(asked, format!("{said} (error {code})"), false)),
        _ => Ok(()),
    }
}

#[async_trait]
impl Link for HislipLink {
    fn framing(&self) -> Framing {
        Framing::Messages
    }

    async fn send(&mut self, message: &[u8]) -> Result<(), LinkError> {
        self.go_on_clearing().await?;
        self.settle().await?;
        self.rest.over(Some(self.steps.clock)).await;
        // An answer to an earlier message that nobody fetched will not be fetched any more.
        self.whole.clear();
        self.parts.clear();
        let bytes = Bytes::from([message, self.terminator.bytes()].concat());
        let pieces = bytes.len().div_ceil(self.most_sent);
        for piece in 0..pieces {
            let end = bytes.len().min((piece + 1) * self.most_sent);
            let kind = if end == bytes.len() { Kind::DataEnd } else { Kind::Data };
            let payload = bytes.slice(piece * self.most_sent..end);
            self.asked = self.next;
            self.next = next_message(self.next);
            let control = self.said_delivered();
            self.main.push(&Message::new(kind, control, self.asked, payload));
        }
        self.main.write().await?;
        self.rest.begins(Some(self.steps.clock));
        Ok(())
    }

    async fn receive(&mut self) -> Result<Received, LinkError> {
        self.go_on_clearing().await?;
        self.main.write().await?;
        loop {
            if let Some(bytes) = self.whole.pop_front() {
                self.delivered = true;
                self.rest.begins(Some(self.steps.clock));
                return Ok(Received { bytes: without_terminator(bytes), end: true });
            }
            self.read().await?;
        }
    }

    async fn unread(&mut self) -> Result<usize, LinkError> {
        self.go_on_clearing().await?;
        while let Some(read) = at_once(self.read()).await {
            match read {
                // What was dropped is nothing that is unread.
                Ok(_) | Err(LinkError::Interrupted) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(self.held())
    }

    async fn clear(&mut self) -> Result<Cleared, LinkError> {
        if self.clearing == Clearing::No {
            self.beside.push(&Message::bare(Kind::AsyncDeviceClear, 0, 0));
            self.clearing = Clearing::Beside;
        }
        self.go_on_clearing().await?;
        Ok(Cleared::Device)
    }

    async fn status(&mut self) -> Result<Option<u8>, LinkError> {
        self.go_on_clearing().await?;
        let control = self.said_delivered();
        self.beside.push(&Message::bare(Kind::AsyncStatusQuery, control, self.asked));
        self.statuses += 1;
        let steps = self.steps.clone();
        let answer = steps.wait("its status byte", async {
            self.beside.write().await?;
            loop {
                let message = self.beside.next().await?;
                if let Some(status) = self.take_beside(&message)? {
                    return Ok(status);
                }
            }
        });
        answer.await.map(Some)
    }
}

/// The most payload that fits into a message of the server's greatest size. The standard can be read as counting the
/// header, and as not counting it.
fn most_payload(size: u64) -> usize {
    let size = usize::try_from(size).unwrap_or(usize::MAX);
    size.saturating_sub(HEADER).max(1)
}
