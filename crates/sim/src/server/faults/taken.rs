//! A message on its way through the instrument, with what happens to it.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, Response};

use super::language::{self, Heard};
use super::rule::Act;
use super::sight::Sight;
use crate::bench::Does;
use crate::server::delivery::Delivery;
use crate::server::port::Connection;

/// A message as it was understood, and what else happens with it.
#[derive(Debug)]
pub(crate) struct Taken {
    number: u64,
    connection: u64,
    /// As it came.
    message: Vec<u8>,
    idle: Duration,
    pause: Option<Duration>,
    unanswered: bool,
    heard: Heard,
    /// Nothing of it is heard, and nothing is answered.
    pub(super) is_lost: bool,
    /// How long the instrument is busy with it.
    busy: Duration,
    power: Option<Power>,
    /// Whether its errors are those of its connection alone.
    own_errors: bool,
    /// What goes out before the answer.
    pub(super) before: Vec<Delivery>,
    /// What goes out after the answer.
    pub(super) after: Vec<Delivery>,
}

/// The instrument is switched off and on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Power {
    /// With its connections.
    Cycle,
    /// So quickly that they stay.
    Dip,
}

/// What an instrument puts where a person is to type.
const PROMPT: &[u8] = b"> ";

impl Taken {
    pub(super) fn new(sight: &Sight<'_>) -> Self {
        Self {
            number: sight.number,
            connection: sight.connection,
            message: sight.message.to_vec(),
            idle: sight.idle,
            pause: sight.pause,
            unanswered: sight.unanswered,
            heard: Heard::plain(sight.message),
            is_lost: false,
            busy: Duration::ZERO,
            power: None,
            own_errors: false,
            before: Vec::new(),
            after: Vec::new(),
        }
    }

    /// A fault that befalls the message.
    pub(super) fn befallen(&mut self, act: &mut Act) {
        match act.does {
            Does::SlowReset => self.busy += act.by,
            Does::PowerCycle => self.power = Some(Power::Cycle),
            Does::PowerDip => self.power = Some(Power::Dip),
            Does::ErrorsPerConnection => self.own_errors = true,
            Does::Echo => {
                let line = [&self.message[..], b"\r\n"].concat();
                self.before.push(Delivery { bytes: line.into(), ..Delivery::proper(b"") });
            }
            Does::Prompt => {
                self.after.push(Delivery { bytes: PROMPT.into(), end: false, ..Delivery::proper(b"") });
            }
            _ => language::play(act, &mut self.heard),
        }
    }

    /// The connection that it came over.
    pub(crate) fn connection(&self) -> Connection {
        Connection(self.connection)
    }

    /// As it came.
    pub(super) fn message(&self) -> &[u8] {
        &self.message
    }

    /// Whether nothing of it is heard.
    pub(crate) fn is_lost(&self) -> bool {
        self.is_lost
    }

    /// How long the instrument is busy with it.
    pub(crate) fn busy(&self) -> Duration {
        self.busy
    }

    /// What becomes of the instrument's power.
    pub(crate) fn power(&self) -> Option<Power> {
        self.power
    }

    /// Whether its errors are those of its connection alone.
    pub(crate) fn has_own_errors(&self) -> bool {
        self.own_errors
    }

    /// The errors that come behind what it makes itself.
    pub(crate) fn errors(&self) -> &[ErrorCode] {
        &self.heard.errors
    }

    /// What is carried out of it.
    pub(crate) fn heard(&self) -> Option<&[u8]> {
        self.heard.message.as_deref()
    }

    /// What is carried out of it later, and how much later.
    pub(crate) fn later(&mut self) -> Option<(Duration, Vec<u8>)> {
        self.heard.later.take()
    }

    /// The occasion `now`, with the answer if there is one.
    pub(super) fn sight<'a>(&'a self, now: Moment, response: Option<&'a Response>) -> Sight<'a> {
        Sight {
            now,
            number: self.number,
            connection: self.connection,
            message: &self.message,
            response,
            idle: self.idle,
            pause: self.pause,
            unanswered: self.unanswered,
        }
    }
}
