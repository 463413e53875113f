//! The error/event queue.

use std::collections::VecDeque;

use spurline_scpi::{ErrorCode, InstrumentError};

/// Errors in the order in which they came, up to a limit.
#[derive(Debug)]
pub(crate) struct ErrorQueue {
    errors: VecDeque<InstrumentError>,
    depth: usize,
}

/// SCPI-1999 volume 2, clause 21.8: a queue holds at least two entries, from memory.
const SHALLOWEST: usize = 2;
/// The same clause: the longest text of an entry, in characters.
const LONGEST_TEXT: usize = 255;

impl ErrorQueue {
    /// An empty queue for `depth` entries, but at least two.
    pub(crate) fn new(depth: usize) -> Self {
        Self { errors: VecDeque::new(), depth: depth.max(SHALLOWEST) }
    }

    /// Puts an error in; `false` if there was no room. The last entry then says so with -350, the oldest stay.
    pub(crate) fn push(&mut self, mut error: InstrumentError) -> bool {
        if self.errors.len() < self.depth {
            if let Some((end, _)) = error.text.char_indices().nth(LONGEST_TEXT) {
                error.text.truncate(end);
            }
            self.errors.push_back(error);
            return true;
        }
        if let Some(last) = self.errors.back_mut() {
            *last = InstrumentError::standard(ErrorCode::QUEUE_OVERFLOW);
        }
        false
    }

    /// The oldest error, or the entry that says there is none.
    pub(crate) fn pop(&mut self) -> InstrumentError {
        self.errors.pop_front().unwrap_or_else(|| InstrumentError::standard(ErrorCode::NO_ERROR))
    }

    /// All errors, oldest first, or the entry that says there is none; the queue is empty afterwards.
    pub(crate) fn drain(&mut self) -> Vec<InstrumentError> {
        if self.errors.is_empty() { vec![self.pop()] } else { self.errors.drain(..).collect() }
    }

    /// How many errors wait.
    pub(crate) fn len(&self) -> usize {
        self.errors.len()
    }

    /// Whether none waits.
    pub(crate) fn is_empty(&self) -> bool {
        self.errors.is_empty()
    }

    /// Forgets all.
    pub(crate) fn clear(&mut self) {
        self.errors.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SCPI-1999 volume 2, clause 21.8.1, from memory: on overflow the last entry becomes -350, the oldest stay.
    #[test]
    fn a_full_queue_says_so_in_its_last_place() {
        for (depth, kept) in [(16, 15), (4, 3), (0, 1)] {
            let mut queue = ErrorQueue::new(depth);
            let taken =
                (0..20).filter(|_| queue.push(InstrumentError::standard(ErrorCode::SYNTAX_ERROR))).count();
            assert_eq!(taken, kept + 1);
            let codes: Vec<i16> = queue.drain().iter().map(|error| error.code.number()).collect();
            assert_eq!(codes[..kept], vec![-102; kept]);
            assert_eq!(codes[kept..], [-350]);
            assert_eq!(queue.pop().code.number(), 0);
        }
    }

    #[test]
    fn a_text_is_cut_where_the_standard_cuts_it() {
        let mut queue = ErrorQueue::new(2);
        queue.push(InstrumentError::standard(ErrorCode::UNDEFINED_HEADER).with_info(&"Ü".repeat(400)));
        assert_eq!(queue.pop().text.chars().count(), 255);
    }
}
