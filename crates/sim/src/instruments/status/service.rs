//! Requesting service: a new reason raises RQS, a poll takes it away.

use spurline_scpi::StatusByte;

/// RQS of IEEE 488.2 clause 11.3.1, beside the summary MSS that no poll changes.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Service {
    /// The enabled bits of the status byte as they were seen last.
    reasons: u8,
    requested: bool,
}

impl Service {
    /// Takes over the enabled bits of the status byte. A bit that was not there is a new reason; without any reason
    /// nothing is requested.
    pub(crate) const fn see(&mut self, reasons: StatusByte) {
        let reasons = reasons.bits();
        self.requested = reasons != 0 && (self.requested || reasons & !self.reasons != 0);
        self.reasons = reasons;
    }

    /// The same while it is not known whether an answer waits.
    pub(crate) const fn see_beside_answers(&mut self, reasons: StatusByte, mask: u8) {
        let answer = self.reasons & mask & StatusByte::MESSAGE_AVAILABLE.bits();
        self.see(StatusByte::from_bits(reasons.bits() | answer));
    }

    /// An answer was put in the output queue: a new reason, even if an earlier one was polled.
    pub(crate) const fn answered(&mut self) {
        self.reasons &= !StatusByte::MESSAGE_AVAILABLE.bits();
    }

    /// Whether service is requested.
    pub(crate) const fn is_requested(self) -> bool {
        self.requested
    }

    /// A serial poll: whether service was requested until now.
    pub(crate) fn poll(&mut self) -> bool {
        std::mem::take(&mut self.requested)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ERROR: StatusByte = StatusByte::ERROR_QUEUE;
    const ANSWER: StatusByte = StatusByte::MESSAGE_AVAILABLE;

    /// IEEE 488.2 clause 11.3.1 and the service request states of IEEE 488.1, from memory.
    #[test]
    fn a_poll_takes_the_request_until_a_new_reason_comes() {
        let mut service = Service::default();
        service.see(ERROR);
        assert!(service.poll() && !service.poll());
        service.see(ERROR);
        assert!(!service.is_requested(), "the same reason is none anew");
        service.see(ERROR.with(ANSWER));
        assert!(service.poll());
        service.see(StatusByte::NONE);
        service.see(ERROR);
        assert!(service.is_requested());
        service.see(StatusByte::NONE);
        assert!(!service.is_requested(), "without a reason there is no request");
    }

    #[test]
    fn each_answer_is_a_reason() {
        let mut service = Service::default();
        service.answered();
        service.see(ANSWER);
        assert!(service.poll());
        service.see_beside_answers(StatusByte::NONE, ANSWER.bits());
        assert!(!service.is_requested());
        service.answered();
        service.see(ANSWER);
        assert!(service.poll());
    }
}
