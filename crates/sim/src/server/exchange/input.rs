//! What has come in from a client and is not begun.

use std::collections::VecDeque;

use bytes::{Bytes, BytesMut};
use spurline_scpi::{DecodeError, ProgramDecoder};

use crate::server::INPUT_BUFFER;

/// Messages that wait behind the one that is being carried out.
const MOST_WAITING: usize = 16;

/// What is to be carried out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Order {
    /// A program message.
    Message(Bytes),
    /// A group execute trigger.
    Trigger,
}

/// Orders in their order, and the message that is still coming.
#[derive(Debug)]
pub(super) struct Input {
    decoder: ProgramDecoder,
    coming: BytesMut,
    /// The message of which a piece has come, but not the end.
    within: Option<u32>,
    orders: VecDeque<(u32, Order)>,
}

impl Default for Input {
    fn default() -> Self {
        Self {
            decoder: ProgramDecoder::new(INPUT_BUFFER),
            coming: BytesMut::new(),
            within: None,
            orders: VecDeque::new(),
        }
    }
}

impl Input {
    /// Takes a piece; gives what is wrong with it.
    pub(super) fn put(&mut self, id: u32, piece: &[u8], end: bool) -> Vec<DecodeError> {
        self.within = (!end).then_some(id);
        self.coming.extend_from_slice(piece);
        if end {
            // END is a terminator as a new line is; a second one is an empty message, and those are skipped.
            self.coming.extend_from_slice(b"\n");
        }
        let mut errors = Vec::new();
        loop {
            match self.decoder.decode(&mut self.coming) {
                Ok(Some(message)) => self.orders.push_back((id, Order::Message(message))),
                Ok(None) => break,
                Err(error) => errors.push(error),
            }
        }
        if end && !self.coming.is_empty() {
            // The message has ended, and a block or a string in it has not.
            self.decoder.reset();
            errors.push(DecodeError::BlockCutShort { expected: 0, found: self.coming.len() as u64 });
            self.coming.clear();
        }
        errors
    }

    pub(super) fn trigger(&mut self, id: u32) {
        self.orders.push_back((id, Order::Trigger));
    }

    /// The next order.
    pub(super) fn take(&mut self) -> Option<(u32, Order)> {
        self.orders.pop_front()
    }

    /// The message that something of has come, and that nobody has begun.
    pub(super) fn waiting(&self) -> Option<u32> {
        self.orders.front().map(|(id, _)| *id).or(self.within)
    }

    /// Whether a message is still coming.
    pub(super) fn is_within(&self) -> bool {
        self.within.is_some()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.orders.is_empty()
    }

    pub(super) fn has_room(&self) -> bool {
        self.orders.len() < MOST_WAITING
    }

    /// Drops everything.
    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }
}
