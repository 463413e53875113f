//! What faults have made of one connection.

use std::collections::VecDeque;

use spurline_clock::Moment;
use spurline_scpi::Unit;

use crate::server::delivery::Delivery;

/// One connection that is served.
#[derive(Debug)]
pub(super) struct Line {
    /// When something last came over it, or it was made.
    pub(super) heard: Moment,
    /// Whether anything was answered on it.
    pub(super) answered: bool,
    /// Answers nothing before a device clear.
    pub(super) wedged: bool,
    /// Answers nothing ever again.
    pub(super) dead: bool,
    /// Answers that are kept back.
    pub(super) held: Vec<Delivery>,
    /// Its own error queue, where every connection has one.
    pub(super) errors: VecDeque<Unit>,
    /// The last byte that came.
    pub(super) last_byte: u8,
    /// A reply of long ago is due.
    pub(super) stale_reply: bool,
    /// A request for service is due.
    pub(super) stray_request: bool,
}

impl Line {
    /// A connection that was just made.
    pub(super) fn new(now: Moment) -> Self {
        Self {
            heard: now,
            answered: false,
            wedged: false,
            dead: false,
            held: Vec::new(),
            errors: VecDeque::new(),
            last_byte: 0,
            stale_reply: false,
            stray_request: false,
        }
    }

    /// Device clear.
    pub(super) fn clear(&mut self) {
        self.wedged = false;
        self.held.clear();
        self.last_byte = 0;
    }
}
