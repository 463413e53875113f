//! A program message on its way through an instrument.

use std::collections::VecDeque;

use bytes::Bytes;
use spurline_clock::Moment;
use spurline_scpi::{ProgramError, ProgramUnit, Response, Unit, program_units};

/// Bytes that an instrument keeps of the answers to one message. A message that asks for more is given up with -430
/// (IEEE 488.2 clause 6.3.1.7), so that a short message cannot fill the memory.
const OUTPUT_QUEUE: usize = 16 << 20;

/// A program message that is being carried out.
#[derive(Debug)]
pub(crate) struct Execution<C> {
    pub(super) units: VecDeque<Result<ProgramUnit, ProgramError>>,
    /// The query that gives the first unit's answer once nothing is pending.
    pub(super) later: Option<C>,
    pub(super) response: Response,
    /// How many times the instrument had been cleared when this began.
    pub(super) began: Option<u64>,
    size: usize,
}

/// How far a message has come.
#[derive(Debug, PartialEq)]
pub(crate) enum Step {
    /// Carried out; the answer without its terminator, if one is owed.
    Done(Option<Bytes>),
    /// Nothing more happens before this moment, unless another connection changes something.
    WaitUntil(Moment),
}

/// The output queue cannot take the answer.
#[derive(Debug)]
pub(super) struct Full;

impl<C> Execution<C> {
    /// Takes a program message apart.
    pub(crate) fn new(message: &[u8]) -> Self {
        Self {
            units: program_units(message).collect(),
            later: None,
            response: Response::default(),
            began: None,
            size: 0,
        }
    }

    /// MAV: whether an answer waits while a unit of this message is carried out.
    pub(super) fn answering(&self) -> bool {
        !self.response.units.is_empty()
    }

    /// Puts the answer to one query in the queue.
    pub(super) fn answer(&mut self, unit: Unit) -> Result<(), Full> {
        self.size += unit.elements.iter().map(|element| element.size() + 1).sum::<usize>();
        if self.size > OUTPUT_QUEUE {
            return Err(Full);
        }
        self.response.units.push(unit);
        Ok(())
    }

    /// Gives up what is left of the message and its answers.
    pub(super) fn abandon(&mut self) {
        self.units.clear();
        self.later = None;
        self.response = Response::default();
    }
}
