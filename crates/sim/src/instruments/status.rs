//! The status registers and the error queue that every instrument has.

use std::collections::VecDeque;

use spurline_scpi::{ErrorCode, InstrumentError, Operation, Questionable, StandardEvent, StatusByte};

/// Errors that the queue holds.
const DEPTH: usize = 16;

/// One SCPI register: what is the case, what has been, and what is reported upwards.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Register {
    condition: u16,
    event: u16,
    pub(crate) enable: u16,
}

/// All registers and the queue of one instrument.
#[derive(Debug)]
pub(crate) struct Status {
    event: StandardEvent,
    pub(crate) event_enable: u8,
    pub(crate) service_enable: u8,
    pub(crate) operation: Register,
    pub(crate) questionable: Register,
    errors: VecDeque<InstrumentError>,
}

impl Register {
    /// Takes over what is the case; what has newly become so is an event.
    fn update(&mut self, condition: u16) {
        self.event |= condition & !self.condition;
        self.condition = condition;
    }

    /// What is the case.
    pub(crate) fn condition(&self) -> u16 {
        self.condition
    }

    /// What has been since the last call.
    pub(crate) fn take_event(&mut self) -> u16 {
        std::mem::take(&mut self.event)
    }

    fn is_reported(&self) -> bool {
        self.event & self.enable != 0
    }
}

impl Status {
    /// As after switching on: the power-on bit is set.
    pub(crate) fn at_power_on() -> Self {
        Self {
            event: StandardEvent::POWER_ON,
            event_enable: 0,
            service_enable: 0,
            operation: Register::default(),
            questionable: Register::default(),
            errors: VecDeque::new(),
        }
    }

    /// Takes over what is the case now.
    pub(crate) fn update(&mut self, operation: Operation, questionable: Questionable) {
        self.operation.update(operation.bits());
        self.questionable.update(questionable.bits());
    }

    /// Puts an error in the queue; when that is full its last entry becomes -350 and the oldest stay.
    pub(crate) fn push(&mut self, error: InstrumentError) {
        self.event = self.event.with(error.code.event());
        if self.errors.len() < DEPTH {
            self.errors.push_back(error);
        } else if let Some(last) = self.errors.back_mut() {
            *last = InstrumentError::standard(ErrorCode::QUEUE_OVERFLOW);
        }
    }

    /// The oldest error, or the entry that says there is none.
    pub(crate) fn pop(&mut self) -> InstrumentError {
        self.errors.pop_front().unwrap_or_else(|| InstrumentError::standard(ErrorCode::NO_ERROR))
    }

    /// How many errors wait.
    pub(crate) fn count(&self) -> usize {
        self.errors.len()
    }

    /// Notes that all pending operations are finished.
    pub(crate) fn complete(&mut self) {
        self.event = self.event.with(StandardEvent::OPERATION_COMPLETE);
    }

    /// The standard event register, cleared by this.
    pub(crate) fn take_events(&mut self) -> StandardEvent {
        std::mem::take(&mut self.event)
    }

    /// `*CLS`: events and errors go, masks stay.
    pub(crate) fn clear(&mut self) {
        self.event = StandardEvent::NONE;
        self.operation.event = 0;
        self.questionable.event = 0;
        self.errors.clear();
    }

    /// `STATus:PRESet`: nothing of the SCPI registers is reported upwards.
    pub(crate) fn preset(&mut self) {
        self.operation.enable = 0;
        self.questionable.enable = 0;
    }

    /// The status byte; `answering` tells whether an answer waits.
    pub(crate) fn byte(&self, answering: bool) -> StatusByte {
        let flags = [
            (!self.errors.is_empty(), StatusByte::ERROR_QUEUE),
            (self.questionable.is_reported(), StatusByte::QUESTIONABLE),
            (answering, StatusByte::MESSAGE_AVAILABLE),
            (self.event.bits() & self.event_enable != 0, StatusByte::EVENT_SUMMARY),
            (self.operation.is_reported(), StatusByte::OPERATION),
        ];
        let byte = flags
            .into_iter()
            .filter(|(is_set, _)| *is_set)
            .fold(StatusByte::NONE, |byte, (_, bit)| byte.with(bit));
        let serviced = byte.bits() & self.service_enable & !StatusByte::MASTER_SUMMARY.bits() != 0;
        if serviced { byte.with(StatusByte::MASTER_SUMMARY) } else { byte }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SCPI-1999 volume 2, 21.8.1: on overflow the last entry is replaced by -350, the oldest stay.
    #[test]
    fn a_full_queue_says_so_in_its_last_place() {
        let mut status = Status::at_power_on();
        for _ in 0..20 {
            status.push(InstrumentError::standard(ErrorCode::UNDEFINED_HEADER));
        }
        let codes: Vec<i16> = (0..17).map(|_| status.pop().code.number()).collect();
        assert_eq!(codes[..15], [-113; 15]);
        assert_eq!(codes[15..], [-350, 0]);
    }

    /// IEEE 488.2 clause 11: enabled events show in the status byte, which the service mask sums up.
    #[test]
    fn events_are_summed_up() {
        let mut status = Status::at_power_on();
        status.event_enable = StandardEvent::COMMAND_ERROR.bits();
        status.service_enable = StatusByte::EVENT_SUMMARY.bits();
        assert_eq!(status.byte(false).bits(), 0);
        status.push(InstrumentError::standard(ErrorCode::SYNTAX_ERROR));
        assert_eq!(status.byte(false).bits(), 4 + 32 + 64);
        assert_eq!(status.byte(true).bits(), 4 + 16 + 32 + 64);
        status.clear();
        assert_eq!(status.byte(false).bits(), 0);
    }
}
