//! How far the exchange has come: what waits, what is under way, what goes out.

use std::collections::VecDeque;
use std::time::Duration;

use bytes::Bytes;

use super::input::{Input, Order};
use crate::server::delivery::{Delivery, Then};

/// Tells whether what went out is still wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::server) struct Epoch(u64);

/// What goes out to the client.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::server) enum Out {
    /// An answer, or a part of one.
    Answer {
        /// The message that it answers.
        to: u32,
        /// What goes out, and how.
        delivery: Delivery,
    },
    /// The message `by` came before the client had got the answer to an earlier one, which is lost.
    Interrupted {
        /// That message.
        by: u32,
    },
    /// A request for service that has no reason.
    ServiceRequest,
}

/// Bytes of an answer that the client has asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::server) struct Fetched {
    /// The bytes.
    pub(in crate::server) bytes: Bytes,
    /// As many came as were asked for.
    pub(in crate::server) full: bool,
    /// The character came that was asked for.
    pub(in crate::server) matched: bool,
    /// The answer ends here.
    pub(in crate::server) end: bool,
    /// How long the instrument is silent behind them.
    pub(in crate::server) gap: Duration,
    /// What happens to the connection afterwards.
    pub(in crate::server) then: Then,
}

/// How far an exchange has come.
#[derive(Debug, Default)]
pub(super) struct State {
    pub(super) input: Input,
    /// An order was taken out, and its first step is not done.
    pub(super) begins: bool,
    /// An order is being carried out.
    pub(super) busy: bool,
    pub(super) output: VecDeque<Out>,
    /// The last answer has gone out, and the client has not said that it has got it.
    pub(super) undelivered: bool,
    /// Counts device clears.
    pub(super) clears: u64,
    /// Changes when what went out is no longer wanted.
    pub(super) epoch: Epoch,
}

impl State {
    /// Takes out an order to be carried out, with the number of clears before it.
    pub(super) fn begin(&mut self) -> Option<(u32, Order, u64)> {
        let (id, order) = self.input.take()?;
        (self.begins, self.busy) = (true, true);
        Some((id, order, self.clears))
    }

    /// Whether there is an answer that the client has not got.
    pub(super) fn is_answering(&self) -> bool {
        self.undelivered || self.output.iter().any(|out| matches!(out, Out::Answer { .. }))
    }

    /// What waits to go out is lost, because the message `by` has come.
    pub(super) fn interrupt(&mut self, by: u32) {
        self.output.clear();
        self.undelivered = false;
        self.epoch.0 += 1;
        self.output.push_back(Out::Interrupted { by });
    }

    /// Everything is dropped.
    pub(super) fn clear(&mut self) {
        self.input.clear();
        self.output.clear();
        self.undelivered = false;
        self.clears += 1;
        self.epoch.0 += 1;
    }

    /// Takes out what goes out next.
    pub(super) fn next(&mut self) -> Option<(Out, Epoch)> {
        let out = self.output.pop_front()?;
        self.undelivered |= matches!(out, Out::Answer { .. });
        Some((out, self.epoch))
    }

    /// Takes out at most `limit` bytes of the answer, up to the character `end_at` if it comes first.
    pub(super) fn fetch(&mut self, limit: usize, end_at: Option<u8>) -> Option<Fetched> {
        while let Some(Out::Interrupted { .. } | Out::ServiceRequest) = self.output.front() {
            self.output.pop_front();
        }
        let Some(Out::Answer { delivery, .. }) = self.output.front_mut() else { return None };
        let (piece, gap) = delivery.pieces.unwrap_or((usize::MAX, Duration::ZERO));
        let most = delivery.bytes.len().min(limit).min(piece.max(1));
        let found = end_at.and_then(|end| delivery.bytes[..most].iter().position(|byte| *byte == end));
        let bytes = delivery.bytes.split_to(found.map_or(most, |at| at + 1));
        let last = delivery.bytes.is_empty();
        let fetched = Fetched {
            full: bytes.len() == limit,
            matched: found.is_some(),
            end: last && delivery.end,
            gap,
            then: if last { delivery.then } else { Then::Stay },
            bytes,
        };
        if last {
            self.output.pop_front();
        }
        Some(fetched)
    }
}
