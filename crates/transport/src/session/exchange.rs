//! One message and its answer.

use std::time::Duration;

use bytes::Bytes;
use spurline_scpi::{InstrumentError, Message, ReadError, Response, StandardEvent, Unit};

use super::{Manners, Session, SessionError, State};
use crate::link::{LinkError, receive_whole};
use crate::tap::Direction;

/// The error queue is read at most this often: an instrument that errs on the question itself never ends.
const MOST_ERRORS: usize = 64;
const POWER_ON: &str = "*ESR?";
const ERRORS: &str = "SYST:ERR?";

/// What is asked behind every message: whether the instrument was switched off and on, and what went wrong.
pub(super) fn sentinel(manners: Manners) -> Message {
    let asked = if manners.power_on_bit { format!("{POWER_ON};:{ERRORS}") } else { ERRORS.to_owned() };
    Message::new().compound(&asked).expect("both questions are well formed")
}

impl Session {
    /// The message as the instrument can take it: in parts, each behind its own question for errors.
    pub(super) fn parts(&self, message: &Message, compound: bool) -> Vec<Message> {
        // A unit is never cut, so that a limit of 0 bytes is one unit a message.
        let longest = if compound { self.longest } else { 0 };
        let longest = longest.saturating_sub(POWER_ON.len() + ERRORS.len() + 3);
        if !message.is_empty() && message.len() <= longest {
            vec![message.clone()]
        } else {
            message.split(longest)
        }
    }

    /// One part and the state of the error queue behind it.
    pub(super) async fn part(
        &mut self,
        part: Message,
        compound: bool,
        work: Duration,
        units: &mut Vec<Unit>,
    ) -> Result<InstrumentError, SessionError> {
        let mut answer = if compound {
            self.exchange(&part.then(&self.sentinel), work).await?.units
        } else {
            if part.queries() == 0 {
                self.send(&part).await?;
            } else {
                units.append(&mut self.exchange(&part, work).await?.units);
            }
            let mut answers = Vec::new();
            for question in self.sentinel.split(0) {
                answers.append(&mut self.exchange(&question, work).await?.units);
            }
            answers
        };
        let entry = answer.pop().map_or(Err(missing()), |unit| unit.error_entry());
        let entry = entry.map_err(|source| self.tainted(&self.sentinel.clone(), source))?;
        if self.manners.power_on_bit {
            let events = answer.pop().map_or(Err(missing()), |unit| unit.integer());
            events.map_err(|source| self.tainted(&self.sentinel.clone(), source))?;
        }
        units.append(&mut answer);
        Ok(entry)
    }

    /// Whether an answer says that the instrument was switched off and on, as far as it can be read: the bit is told
    /// once, also in an answer that is good for nothing else.
    fn tells_of_power_on(&self, asked: &Message, units: &[Unit]) -> bool {
        let asks = self.manners.power_on_bit && asked.units().any(|unit| unit == POWER_ON);
        let place = if asked.units().last() == Some(POWER_ON) { 1 } else { 2 };
        let told = units.len().checked_sub(place).and_then(|at| units.get(at));
        asks && told.and_then(|unit| unit.integer().ok()).is_some_and(is_power_on)
    }

    pub(super) async fn exchange(
        &mut self,
        message: &Message,
        work: Duration,
    ) -> Result<Response, SessionError> {
        self.send(message).await?;
        let queries = message.queries();
        let bytes = self.receive(message, work + self.manners.answer_within).await?;
        self.round_trips += 1;
        let response = Response::parse(bytes).map_err(|error| self.broken(LinkError::Decode(error)))?;
        let found = response.units.len();
        if self.tells_of_power_on(message, &response.units) {
            self.state = if found == queries { State::Ready } else { State::Tainted };
            return Err(self.power_cycled());
        }
        if found != queries {
            return Err(self.tainted(message, ReadError::Units { expected: queries, found }));
        }
        self.state = State::Ready;
        Ok(response)
    }

    pub(super) async fn send(&mut self, message: &Message) -> Result<(), SessionError> {
        let (clock, within) = (self.clock, self.manners.answer_within);
        self.link()?;
        let bytes = Bytes::copy_from_slice(message.as_bytes());
        self.tap.note(clock.timestamp(), &self.name, Direction::Sent, bytes);
        self.state = State::Busy;
        match clock.within(within, self.link()?.send(message.as_bytes())).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(error)) => Err(self.broken(error)),
            Err(_) => Err(self.silent(message, within)),
        }
    }

    /// Waits for one whole answer.
    pub(super) async fn receive(
        &mut self,
        message: &Message,
        within: Duration,
    ) -> Result<Bytes, SessionError> {
        let clock = self.clock;
        let arrived = clock.within(within, async {
            receive_whole(self.link.as_mut().ok_or(LinkError::Gone)?.as_mut()).await
        });
        match arrived.await {
            Ok(Ok(bytes)) => {
                self.tap.note(clock.timestamp(), &self.name, Direction::Received, bytes.clone());
                Ok(bytes)
            }
            Ok(Err(error)) => Err(self.broken(error)),
            Err(_) => Err(self.silent(message, within)),
        }
    }

    /// Empties the error queue.
    pub(super) async fn drain(&mut self, errors: &mut Vec<InstrumentError>) -> Result<(), SessionError> {
        let question = Message::new().unit(ERRORS)?;
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
}

const fn missing() -> ReadError {
    ReadError::Units { expected: 1, found: 0 }
}

/// Whether the standard event register says that the instrument was switched on since it was last asked.
fn is_power_on(events: i64) -> bool {
    events & i64::from(StandardEvent::POWER_ON.bits()) != 0
}
