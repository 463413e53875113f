//! The order of question and answer on one link.
//!
//! ```text
//!   ready ──ask──► busy ──answer complete, as many fields as queries──► ready
//!     ▲              │ deadline passed, link failed, answer not readable, wrong number of fields
//!     │              ▼
//!     └──token──► tainted ──no token, or the link is gone──► closed
//! ```
//!
//! A late answer on a raw socket would be taken for the answer to the next question. So a link that has missed
//! one answer is tainted, and nothing is asked on it before a token that nobody else would answer has come back.

use std::time::Duration;

use bytes::Bytes;
use spurline_clock::Clock;
use spurline_scpi::{Identity, InstrumentError, Message, MessageError, ReadError, Response, Unit};
use thiserror::Error;

use crate::address::Address;
use crate::connect;
use crate::link::{Cleared, Framing, Link, LinkError};
use crate::settings::LinkSettings;
use crate::tap::{Direction, Tap};

/// How an instrument wants to be spoken to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manners {
    /// The most bytes of one message.
    pub longest: usize,
    /// Whether several commands may share a message.
    pub compound: bool,
    /// How long an answer may take beyond the work that it waits for.
    pub answer_within: Duration,
}

/// Why a question was not answered.
#[derive(Debug, Error)]
pub enum SessionError {
    /// The question could not be written.
    #[error("the command cannot be sent")]
    Message(#[from] MessageError),
    /// The link failed.
    #[error("the link to the {name} at {address} failed")]
    Link {
        /// Whose link.
        name: String,
        /// Where.
        address: String,
        /// Why.
        #[source]
        source: LinkError,
    },
    /// Nothing came in time.
    #[error("the {name} at {address} did not answer `{asked}` within {seconds} s")]
    Silent {
        /// Who.
        name: String,
        /// Where.
        address: String,
        /// What was asked.
        asked: String,
        /// The deadline.
        seconds: f64,
    },
    /// The instrument put errors into its queue.
    #[error("the {name} refused `{asked}`: {}", join(.errors))]
    Refused {
        /// Who.
        name: String,
        /// What was asked.
        asked: String,
        /// The errors, oldest first.
        errors: Vec<InstrumentError>,
    },
    /// The answer is not what was asked for.
    #[error("the {name} answered `{asked}` with something else")]
    Answer {
        /// Who.
        name: String,
        /// What was asked.
        asked: String,
        /// What is wrong with it.
        #[source]
        source: ReadError,
    },
    /// The order of question and answer could not be restored.
    #[error("the link to the {name} at {address} is out of step and did not come back")]
    OutOfStep {
        /// Who.
        name: String,
        /// Where.
        address: String,
    },
}

fn join(errors: &[InstrumentError]) -> String {
    errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Ready,
    Tainted,
    Closed,
}

/// A conversation with one instrument.
#[derive(Debug)]
pub struct Session {
    name: String,
    address: Address,
    link: Box<dyn Link>,
    clock: Clock,
    tap: Tap,
    manners: Manners,
    state: State,
    token: u8,
    round_trips: u64,
}

/// The error queue is read at most this often: an instrument that errs on the question itself never ends.
const MOST_ERRORS: usize = 64;
/// How many stale answers are thrown away while a token is waited for.
const MOST_STALE: usize = 16;
const SENTINEL: &str = "SYST:ERR?";

impl Session {
    /// Connects to `address`, clears the instrument's status and asks who it is.
    ///
    /// # Errors
    ///
    /// If nobody answers, or not as an instrument does.
    pub async fn open(
        name: &str,
        address: &Address,
        settings: &LinkSettings,
        manners: Manners,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, Identity), SessionError> {
        let link = connect(address, settings, clock).await.map_err(|source| SessionError::Link {
            name: name.to_owned(),
            address: address.to_string(),
            source,
        })?;
        let mut session = Self::over(link, name, address.clone(), manners, clock, tap);
        session.send(&Message::new().unit("*CLS")?).await?;
        let question = Message::new().unit("*IDN?")?;
        let answer = session.ask(&question, Duration::ZERO).await?;
        let identity = answer[0].identity().map_err(|source| session.tainted(&question, source))?;
        Ok((session, identity))
    }

    /// A conversation over a link that exists.
    #[must_use]
    pub fn over(
        link: Box<dyn Link>,
        name: &str,
        address: Address,
        manners: Manners,
        clock: Clock,
        tap: Tap,
    ) -> Self {
        Self {
            name: name.to_owned(),
            address,
            link,
            clock,
            tap,
            manners,
            state: State::Ready,
            token: 1,
            round_trips: 0,
        }
    }

    /// Questions asked and answered so far.
    #[must_use]
    pub fn round_trips(&self) -> u64 {
        self.round_trips
    }

    /// Sends commands and queries, and waits for the answers: one unit per query.
    ///
    /// `work` is how long the instrument may be busy with what it was told, beside answering. The error queue is
    /// read in the same exchange, so that an error is blamed on the message that made it.
    ///
    /// # Errors
    ///
    /// [`SessionError`]; unless it is `Refused` or `Message`, the link is tainted and will be brought back into
    /// step before anything else is asked.
    pub async fn ask(&mut self, message: &Message, work: Duration) -> Result<Vec<Unit>, SessionError> {
        self.back_in_step(work).await?;
        let mut units = Vec::with_capacity(message.queries());
        let mut errors = Vec::new();
        for part in self.parts(message) {
            let entry = self.part(part, work, &mut units).await?;
            if !entry.is_no_error() {
                errors.push(entry);
                self.drain(&mut errors).await?;
            }
        }
        if errors.is_empty() {
            Ok(units)
        } else {
            Err(SessionError::Refused { name: self.name.clone(), asked: message.to_string(), errors })
        }
    }

    /// The message as the instrument can take it: in parts, each behind its own question for errors.
    fn parts(&self, message: &Message) -> Vec<Message> {
        let longest = if self.manners.compound { self.manners.longest } else { 0 };
        message.split(longest.saturating_sub(SENTINEL.len() + 2))
    }

    /// One part and the state of the error queue behind it.
    async fn part(
        &mut self,
        part: Message,
        work: Duration,
        units: &mut Vec<Unit>,
    ) -> Result<InstrumentError, SessionError> {
        let sentinel = Message::new().unit(SENTINEL)?;
        let mut answer = if self.manners.compound {
            self.exchange(&part.then(&sentinel), work).await?
        } else if part.queries() == 0 {
            self.send(&part).await?;
            self.exchange(&sentinel, work).await?
        } else {
            units.append(&mut self.exchange(&part, work).await?.units);
            self.exchange(&sentinel, Duration::ZERO).await?
        };
        let last = answer.units.pop();
        units.append(&mut answer.units);
        let entry = last.map_or(Err(ReadError::Units { expected: 1, found: 0 }), |unit| unit.error_entry());
        entry.map_err(|source| self.tainted(&sentinel, source))
    }

    async fn exchange(&mut self, message: &Message, work: Duration) -> Result<Response, SessionError> {
        self.send(message).await?;
        let queries = message.queries();
        let bytes = self.receive(message, work).await?;
        self.round_trips += 1;
        let response = Response::parse(bytes).map_err(|error| self.broken(LinkError::Decode(error)))?;
        let found = response.units.len();
        if found == queries {
            Ok(response)
        } else {
            Err(self.tainted(message, ReadError::Units { expected: queries, found }))
        }
    }

    async fn send(&mut self, message: &Message) -> Result<(), SessionError> {
        let bytes = Bytes::copy_from_slice(message.as_bytes());
        self.tap.note(self.clock.timestamp(), &self.name, Direction::Sent, bytes);
        let within = self.manners.answer_within;
        match self.clock.within(within, self.link.send(message.as_bytes())).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(error)) => Err(self.broken(error)),
            Err(_) => Err(self.silent(&message.to_string(), within)),
        }
    }

    async fn receive(&mut self, message: &Message, work: Duration) -> Result<Bytes, SessionError> {
        let within = work + self.manners.answer_within;
        let mut whole: Vec<u8> = Vec::new();
        let clock = self.clock;
        let link = &mut self.link;
        let arrived = clock.within(within, async {
            loop {
                let received = link.receive().await?;
                if received.end && whole.is_empty() {
                    return Ok(received.bytes);
                }
                whole.extend_from_slice(&received.bytes);
                if received.end {
                    return Ok(Bytes::from(std::mem::take(&mut whole)));
                }
            }
        });
        match arrived.await {
            Ok(Ok(bytes)) => {
                self.tap.note(self.clock.timestamp(), &self.name, Direction::Received, bytes.clone());
                Ok(bytes)
            }
            Ok(Err(error)) => Err(self.broken(error)),
            Err(_) => Err(self.silent(&message.to_string(), within)),
        }
    }

    async fn drain(&mut self, errors: &mut Vec<InstrumentError>) -> Result<(), SessionError> {
        let question = Message::new().unit(SENTINEL)?;
        while errors.len() < MOST_ERRORS {
            let answer = self.exchange(&question, Duration::ZERO).await?;
            let entry = answer.units[0].error_entry().map_err(|source| self.tainted(&question, source))?;
            if entry.is_no_error() {
                break;
            }
            errors.push(entry);
        }
        Ok(())
    }

    /// Makes sure that the next answer belongs to the next question.
    async fn back_in_step(&mut self, work: Duration) -> Result<(), SessionError> {
        if self.state == State::Ready {
            match self.link.unread().await {
                Ok(0) => return Ok(()),
                Ok(_) => self.state = State::Tainted,
                Err(error) => return Err(self.broken(error)),
            }
        }
        if self.state == State::Closed {
            return Err(self.out_of_step());
        }
        let cleared = self.link.clear().await.map_err(|error| self.broken(error))?;
        if self.link.framing() == Framing::Stream || cleared == Cleared::NotPossible {
            // The token queues behind whatever the instrument is still busy with.
            self.token_comes_back(work).await?;
            self.token_comes_back(Duration::ZERO).await?;
            self.send(&Message::new().unit("*ESE 0")?).await?;
        }
        self.state = State::Ready;
        Ok(())
    }

    async fn token_comes_back(&mut self, work: Duration) -> Result<(), SessionError> {
        self.token = self.token % 250 + 5;
        let token = self.token;
        let question = Message::new().unit(&format!("*ESE {token}"))?.unit("*ESE?")?;
        self.send(&question).await?;
        for _ in 0..MOST_STALE {
            let bytes = match self.receive(&question, work).await {
                Ok(bytes) => bytes,
                Err(_) => break,
            };
            let answer = Response::parse(bytes).ok();
            let value = answer.and_then(|answer| match answer.units.as_slice() {
                [unit] => unit.integer().ok(),
                _ => None,
            });
            if value == Some(i64::from(token)) {
                return Ok(());
            }
        }
        self.state = State::Closed;
        Err(self.out_of_step())
    }

    fn out_of_step(&self) -> SessionError {
        SessionError::OutOfStep { name: self.name.clone(), address: self.address.to_string() }
    }

    fn tainted(&mut self, message: &Message, source: ReadError) -> SessionError {
        self.state = State::Tainted;
        SessionError::Answer { name: self.name.clone(), asked: message.to_string(), source }
    }

    fn silent(&mut self, asked: &str, within: Duration) -> SessionError {
        self.state = State::Tainted;
        SessionError::Silent {
            name: self.name.clone(),
            address: self.address.to_string(),
            asked: asked.to_owned(),
            seconds: within.as_secs_f64(),
        }
    }

    fn broken(&mut self, source: LinkError) -> SessionError {
        self.state = if matches!(source, LinkError::Decode(_)) { State::Tainted } else { State::Closed };
        SessionError::Link { name: self.name.clone(), address: self.address.to_string(), source }
    }
}

#[cfg(test)]
mod tests;
