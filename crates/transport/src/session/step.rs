//! Back in step: the next answer belongs to the next question, or the link is closed.

use std::hash::{BuildHasher, Hasher};
use std::time::Duration;

use spurline_scpi::{Message, Response};

use super::error::shown;
use super::{Session, SessionError, State};
use crate::link::{Cleared, Framing};

/// How many stale answers are thrown away while a token is waited for.
const MOST_STALE: usize = 16;
/// The token queues behind whatever the instrument still owes, which took longer than it should already.
const PATIENCE: u32 = 3;

/// Tokens have three digits: what is answered to other questions is often a single one, such as 0 and 1.
const LOWEST: u8 = 100;
const TOKENS: u8 = 150;

/// Where the tokens of a session begin: elsewhere than those of the program that used the link before.
pub(super) fn first_token() -> u8 {
    LOWEST
        + (std::collections::hash_map::RandomState::new().build_hasher().finish() % u64::from(TOKENS)) as u8
}

impl Session {
    /// Makes sure that the next answer belongs to the next question.
    pub(super) async fn back_in_step(&mut self, work: Duration) -> Result<(), SessionError> {
        if self.state == State::Ready {
            match self.link()?.unread().await {
                Ok(0) => return Ok(()),
                Ok(_) => self.state = State::Tainted,
                Err(error) => return Err(self.broken(error)),
            }
        }
        if self.state == State::Closed {
            return Err(self.out_of_step());
        }
        self.clear_or_token(work).await?;
        self.state = State::Ready;
        Ok(())
    }

    /// Clears the instrument where the link can; elsewhere waits for a token to come back, twice.
    pub(super) async fn clear_or_token(&mut self, work: Duration) -> Result<(), SessionError> {
        let within = work + self.manners.answer_within * PATIENCE;
        let clock = self.clock;
        let link = self.link()?;
        let framing = link.framing();
        let cleared = match clock.within(within, link.clear()).await {
            Ok(Ok(cleared)) => cleared,
            Ok(Err(error)) => return Err(self.broken(error)),
            Err(_) => return Err(self.out_of_step()),
        };
        if framing == Framing::Stream || cleared == Cleared::NotPossible {
            self.token_comes_back(within).await?;
        }
        // Once more on a stream, where the first may have been an answer of old; once behind a clear, since there is
        // firmware that answers what it was still working on all the same.
        self.token_comes_back(self.manners.answer_within).await?;
        self.send(&Message::new().unit("*ESE 0")?).await
    }

    /// Asks for a value that nobody else would answer, and throws away what comes before it.
    async fn token_comes_back(&mut self, within: Duration) -> Result<(), SessionError> {
        self.token = LOWEST + (self.token - LOWEST + 1) % TOKENS;
        let token = self.token;
        let is_new = self.identity.is_none();
        let tell = Message::new().unit(&format!("*ESE {token}"))?;
        let ask = Message::new().unit("*ESE?")?;
        let question = if self.manners.compound && self.singly == 0 {
            tell.then(&ask)
        } else {
            self.send(&tell).await?;
            ask
        };
        self.send(&question).await?;
        let mut heard = None;
        let until = self.clock.now().after(within);
        for _ in 0..MOST_STALE {
            let left = until.since(self.clock.now());
            let bytes = match self.receive(&question, left).await {
                Ok(bytes) => bytes,
                Err(SessionError::Link { source, .. }) if source.is_passing() => continue,
                Err(error @ SessionError::Link { .. }) => return Err(error),
                Err(_) => break,
            };
            if bytes == question.as_bytes() {
                self.close("it echoes");
                return Err(SessionError::Echo {
                    name: self.name.to_string(),
                    address: self.address.to_string(),
                });
            }
            heard = Some(shown(&bytes));
            let answer = Response::parse(bytes).ok();
            let value = answer.and_then(|answer| match answer.units.as_slice() {
                [unit] => unit.integer().ok(),
                _ => None,
            });
            if value == Some(i64::from(token)) {
                return Ok(());
            }
        }
        let failure = self.out_of_step();
        match heard {
            // Nobody has been understood on this link yet: it is not the order that is wrong.
            Some(found) if is_new => {
                let (name, address) = (self.name.to_string(), self.address.to_string());
                Err(SessionError::Garbled { name, address, expected: token.to_string(), found })
            }
            _ => Err(failure),
        }
    }
}
