//! The order of question and answer on one link.
//!
//! ```text
//!   closed ──► connecting ──► probing ──► ready ◄──────── answer complete, as many fields as queries ──┐
//!     ▲             │             │         │ ask                                                      │
//!     │             └── nobody ◄──┘         └──► busy ─────────────────────────────────────────────────┤
//!     │                  answers                  deadline passed, answer not readable, fields missing │
//!     └───────── no token, or the link is gone ◄───────────────────────────── tainted ◄────────────────┘
//!                                                 token came back: ready ◄───────┘
//! ```
//!
//! A late answer on a raw socket would be taken for the answer to the next question. So a link that has missed
//! one answer is tainted, and nothing is asked on it before a token that nobody else would answer has come back.
//! A session never repeats a question by itself: only its caller knows whether that would key a transmitter.

mod error;
mod exchange;
mod opening;
mod step;

use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use spurline_clock::Clock;
use spurline_scpi::{ErrorClass, ErrorCode, Identity, InstrumentError, Message, ReadError, Unit};

use crate::address::Address;
use crate::link::{Link, LinkError};
use crate::settings::LinkSettings;
use crate::tap::{Direction, Tap};

pub use error::SessionError;
use error::told;
pub use opening::Reopened;

/// How an instrument wants to be spoken to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manners {
    /// The most bytes of one message.
    pub longest: usize,
    /// Whether several commands may share a message.
    pub compound: bool,
    /// Whether `*ESR?` tells that the instrument was switched off and on (IEEE 488.2 11.5.1, bit 7).
    pub power_on_bit: bool,
    /// How long an answer may take beyond the work that it waits for.
    pub answer_within: Duration,
}

/// Where a session stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// There is no link.
    Closed,
    /// A link is being made.
    Connecting,
    /// It is there; whether an instrument answers on it is being found out.
    Probing,
    /// The next answer belongs to the next question.
    Ready,
    /// An answer is waited for.
    Busy,
    /// An answer is missing, or one too many came.
    Tainted,
}

/// A conversation with one instrument.
#[derive(Debug)]
pub struct Session {
    name: Arc<str>,
    address: Address,
    settings: LinkSettings,
    link: Option<Box<dyn Link>>,
    clock: Clock,
    tap: Tap,
    manners: Manners,
    /// What is asked behind every message.
    sentinel: Message,
    state: State,
    identity: Option<Identity>,
    token: u8,
    /// The most bytes of one message, as the instrument has taught.
    longest: usize,
    /// For how many more questions every unit goes in a message of its own.
    singly: u32,
    /// Whether the last question was asked unit by unit.
    found_singly: bool,
    /// How often that was needed.
    mismatches: u32,
    round_trips: u64,
}

/// So often a message of several units may be answered in part before none are sent any more.
const MISMATCHES: u32 = 3;
/// After fields were missing, so many questions are asked unit by unit, to find the one that is at fault.
const SINGLY: u32 = 2;
/// No instrument is known that takes less.
const SHORTEST: usize = 40;

impl Session {
    /// A conversation over a link that exists, as one made in this process.
    #[must_use]
    pub fn over(
        link: Box<dyn Link>,
        name: &str,
        address: Address,
        manners: Manners,
        clock: Clock,
        tap: Tap,
    ) -> Self {
        let mut session = Self::closed(name, address, manners, clock, tap);
        session.link = Some(link);
        session.state = State::Ready;
        session
    }

    fn closed(name: &str, address: Address, manners: Manners, clock: Clock, tap: Tap) -> Self {
        Self {
            name: name.into(),
            address,
            settings: LinkSettings::default(),
            link: None,
            clock,
            tap,
            manners,
            sentinel: exchange::sentinel(manners),
            state: State::Closed,
            identity: None,
            token: step::first_token(),
            longest: manners.longest,
            singly: 0,
            found_singly: false,
            mismatches: 0,
            round_trips: 0,
        }
    }

    /// Questions asked and answered so far.
    #[must_use]
    pub fn round_trips(&self) -> u64 {
        self.round_trips
    }

    /// Where the session stands.
    #[must_use]
    pub fn state(&self) -> State {
        self.state
    }

    /// Sends commands and queries, and waits for the answers: one unit per query.
    ///
    /// `work` is how long the instrument may be busy with what it was told, beside answering. The error queue and
    /// the power-on bit are read in the same exchange, so that an error is blamed on the message that made it.
    ///
    /// # Errors
    ///
    /// [`SessionError`]; the link is brought back into step before anything else is asked on it.
    pub async fn ask(&mut self, message: &Message, work: Duration) -> Result<Vec<Unit>, SessionError> {
        self.back_in_step(work).await?;
        let compound = self.manners.compound && self.singly == 0;
        self.found_singly = !compound;
        self.singly = self.singly.saturating_sub(u32::from(self.singly != u32::MAX));
        let parts = self.parts(message, compound);
        let mut units = Vec::with_capacity(message.queries());
        let mut errors = Vec::new();
        for part in parts {
            let entry = self.part(part, compound, work, &mut units).await?;
            if !entry.is_no_error() {
                errors.push(entry);
                self.drain(&mut errors).await?;
            }
        }
        if errors.iter().any(|error| error.code.class() == ErrorClass::PowerOn) {
            return Err(self.power_cycled());
        }
        if errors.is_empty() { Ok(units) } else { Err(self.refused(message, errors)) }
    }

    /// The same, but only if the next answer surely belongs to the next question: nothing is brought back into step
    /// first, so that what is sent is sent now or not at all.
    ///
    /// # Errors
    ///
    /// [`SessionError`]; [`SessionError::OutOfStep`] if nothing was sent.
    pub async fn ask_now(&mut self, message: &Message, work: Duration) -> Result<Vec<Unit>, SessionError> {
        if !self.is_in_step().await {
            return Err(self.not_in_step());
        }
        self.ask(message, work).await
    }

    /// Whether the next answer surely belongs to the next question.
    pub async fn is_in_step(&mut self) -> bool {
        if self.state != State::Ready {
            return false;
        }
        match &mut self.link {
            Some(link) => matches!(link.unread().await, Ok(0)),
            None => false,
        }
    }

    /// Sends commands over whatever link there is, in step or not, and waits for nothing: for what must reach the
    /// instrument if anything does. The link is then out of step.
    ///
    /// # Errors
    ///
    /// [`SessionError`], if there is no link or it does not take them.
    pub async fn tell_anyway(&mut self, message: &Message) -> Result<(), SessionError> {
        let sent = self.send(message).await;
        if self.state != State::Closed {
            self.state = State::Tainted;
        }
        sent
    }

    /// Brings the link back into step after a question failed, and takes from the failure what it teaches: shorter
    /// messages after an overrun, one unit at a time after missing fields. `asked` is what failed.
    ///
    /// # Errors
    ///
    /// [`SessionError`], if the link does not come back, or if the instrument did not answer because it does not
    /// know the question.
    pub async fn recover(
        &mut self,
        failure: &SessionError,
        asked: &Message,
        work: Duration,
    ) -> Result<(), SessionError> {
        match failure {
            SessionError::Refused { errors, .. } if is_overrun(errors) => self.shorten(asked),
            SessionError::Refused { errors, .. }
                if errors.iter().any(|error| error.code.is_query_error()) =>
            {
                self.state = State::Tainted;
            }
            SessionError::Answer { source: ReadError::Units { .. }, .. } => self.look_singly(),
            _ => {}
        }
        self.back_in_step(work).await?;
        let mut errors = Vec::new();
        self.drain(&mut errors).await?;
        if !matches!(failure, SessionError::Silent { .. }) {
            return Ok(());
        }
        // IEEE 488.2 owes no answer to a message that was not understood: the queue alone tells.
        if is_overrun(&errors) {
            self.shorten(asked);
        } else if errors.iter().any(|error| error.code == ErrorCode::UNDEFINED_HEADER) {
            if self.found_singly {
                return Err(self.refused(asked, errors));
            }
            self.look_singly();
        }
        Ok(())
    }

    /// From now on messages are much shorter than the one that was too long.
    fn shorten(&mut self, asked: &Message) {
        self.longest = (self.longest.min(asked.len()) / 4).max(SHORTEST);
    }

    /// Asks unit by unit for a while, to find the one that is at fault; for good, if that is needed again and again.
    fn look_singly(&mut self) {
        self.mismatches += 1;
        self.singly = if self.mismatches > MISMATCHES { u32::MAX } else { SINGLY };
    }

    fn refused(&self, message: &Message, errors: Vec<InstrumentError>) -> SessionError {
        SessionError::Refused { name: self.name.to_string(), asked: told(message), errors }
    }

    fn out_of_step(&mut self) -> SessionError {
        self.close("out of step");
        self.not_in_step()
    }

    fn not_in_step(&self) -> SessionError {
        SessionError::OutOfStep { name: self.name.to_string(), address: self.address.to_string() }
    }

    fn power_cycled(&self) -> SessionError {
        SessionError::PowerCycled { name: self.name.to_string(), address: self.address.to_string() }
    }

    fn tainted(&mut self, message: &Message, source: ReadError) -> SessionError {
        self.state = State::Tainted;
        SessionError::Answer { name: self.name.to_string(), asked: told(message), source }
    }

    fn silent(&mut self, asked: &Message, within: Duration) -> SessionError {
        self.state = State::Tainted;
        SessionError::Silent {
            name: self.name.to_string(),
            address: self.address.to_string(),
            asked: told(asked),
            seconds: within.as_secs_f64(),
        }
    }

    fn broken(&mut self, source: LinkError) -> SessionError {
        let unreadable = self.link.as_mut().map(|link| link.unreadable()).unwrap_or_default();
        if !unreadable.is_empty() {
            self.tap.note(self.clock.timestamp(), &self.name, Direction::Unreadable, unreadable);
        }
        if source.is_passing() {
            self.state = State::Tainted;
        } else {
            self.close(&source.to_string());
        }
        SessionError::Link { name: self.name.to_string(), address: self.address.to_string(), source }
    }

    fn close(&mut self, why: &str) {
        if self.link.take().is_some() {
            let words = Bytes::copy_from_slice(why.as_bytes());
            self.tap.note(self.clock.timestamp(), &self.name, Direction::Lost, words);
        }
        self.state = State::Closed;
    }

    /// The link, if there is one.
    fn link(&mut self) -> Result<&mut Box<dyn Link>, SessionError> {
        if self.link.is_none() {
            return Err(self.out_of_step());
        }
        Ok(self.link.as_mut().expect("it was looked at just now"))
    }
}

fn is_overrun(errors: &[InstrumentError]) -> bool {
    errors.iter().any(|error| error.code == ErrorCode::INPUT_BUFFER_OVERRUN)
}

#[cfg(test)]
mod tests;
