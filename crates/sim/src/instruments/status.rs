//! The status registers and the error queue that every instrument has.

mod queue;
mod register;
mod service;

use spurline_scpi::{InstrumentError, Questionable, StandardEvent, StatusByte};

use super::device::Conditions;
use queue::ErrorQueue;
pub(crate) use register::{Filter, Register};
use service::Service;

/// Errors that a queue holds if nothing else is said.
pub(crate) const DEPTH: usize = 16;

/// All registers and the queue of one instrument.
#[derive(Debug)]
pub(crate) struct Status {
    event: StandardEvent,
    event_enable: u8,
    service_enable: u8,
    service: Service,
    /// `*PSC`: whether switching on clears the two masks above.
    pub(crate) clears_at_power_on: bool,
    pub(crate) operation: Register,
    pub(crate) questionable: Register,
    /// Summed up in `questionable`.
    pub(crate) power: Register,
    pub(crate) errors: ErrorQueue,
}

impl Status {
    /// As after switching on for the first time: the power-on bit is set.
    pub(crate) fn at_power_on(depth: usize) -> Self {
        Self {
            event: StandardEvent::POWER_ON,
            event_enable: 0,
            service_enable: 0,
            service: Service::default(),
            clears_at_power_on: true,
            operation: Register::mandatory(),
            questionable: Register::mandatory(),
            power: Register::below(),
            errors: ErrorQueue::new(depth),
        }
    }

    /// Switched off and on again (IEEE 488.2 clauses 5.12 and 10.25).
    pub(crate) fn power_on(&mut self) {
        self.event = StandardEvent::POWER_ON;
        if self.clears_at_power_on {
            (self.event_enable, self.service_enable) = (0, 0);
        }
        self.service = Service::default();
        (self.operation, self.questionable) = (Register::mandatory(), Register::mandatory());
        self.power = Register::below();
        self.errors.clear();
    }

    /// Takes over what is the case now.
    pub(crate) fn update(&mut self, conditions: Conditions) {
        self.operation.update(conditions.operation.bits());
        self.power.update(conditions.power.bits());
        let power = if self.power.is_present() { Questionable::POWER } else { Questionable::NONE };
        self.questionable.update(conditions.questionable.with(power).bits());
        self.look_for_reasons();
    }

    /// Puts an error in the queue and sets its event bit; without room also that of the overflow.
    pub(crate) fn push(&mut self, error: InstrumentError) {
        self.event = self.event.with(error.code.event());
        if !self.errors.push(error) {
            self.event = self.event.with(StandardEvent::DEVICE_ERROR);
        }
        self.look_for_reasons();
    }

    /// Notes that all pending operations are finished.
    pub(crate) fn complete(&mut self) {
        self.event = self.event.with(StandardEvent::OPERATION_COMPLETE);
        self.look_for_reasons();
    }

    /// The standard event register, cleared by this.
    pub(crate) fn take_events(&mut self) -> StandardEvent {
        std::mem::take(&mut self.event)
    }

    /// `*ESE?`.
    pub(crate) fn event_enable(&self) -> u8 {
        self.event_enable
    }

    /// `*ESE`.
    pub(crate) fn set_event_enable(&mut self, mask: u8) {
        self.event_enable = mask;
    }

    /// `*SRE?`.
    pub(crate) fn service_enable(&self) -> u8 {
        self.service_enable
    }

    /// `*SRE`; bit 6 does not exist (IEEE 488.2 clause 11.3.2.3).
    pub(crate) fn set_service_enable(&mut self, mask: u8) {
        self.service_enable = mask & !StatusByte::MASTER_SUMMARY.bits();
    }

    /// `*CLS`: events and errors go, masks and filters stay.
    pub(crate) fn clear(&mut self) {
        self.event = StandardEvent::NONE;
        for register in [&mut self.operation, &mut self.questionable, &mut self.power] {
            register.clear();
        }
        self.errors.clear();
        self.look_for_reasons();
    }

    /// `STATus:PRESet`: filters of the SCPI registers as after switching on, nothing reported upwards.
    pub(crate) fn preset(&mut self) {
        for register in [&mut self.operation, &mut self.questionable, &mut self.power] {
            register.preset();
        }
    }

    /// The status byte of `*STB?`, with MSS in bit 6; `answering` tells whether an answer waits.
    pub(crate) fn byte(&self, answering: bool) -> StatusByte {
        let byte = self.bits(answering);
        if self.enabled(byte).is_empty() { byte } else { byte.with(StatusByte::MASTER_SUMMARY) }
    }

    /// The status byte of a serial poll, with RQS in bit 6, which this takes away.
    pub(crate) fn poll(&mut self, answering: bool) -> StatusByte {
        self.look(answering);
        let byte = self.bits(answering);
        if self.service.poll() { byte.with(StatusByte::MASTER_SUMMARY) } else { byte }
    }

    /// Whether service is requested, without taking the request.
    pub(crate) fn requests_service(&mut self, answering: bool) -> bool {
        self.look(answering);
        self.service.is_requested()
    }

    /// An answer was put in the output queue.
    pub(crate) fn answered(&mut self) {
        self.service.answered();
    }

    /// All bits but the sixth.
    fn bits(&self, answering: bool) -> StatusByte {
        let flags = [
            (!self.errors.is_empty(), StatusByte::ERROR_QUEUE),
            (self.questionable.is_reported(), StatusByte::QUESTIONABLE),
            (answering, StatusByte::MESSAGE_AVAILABLE),
            (self.event.bits() & self.event_enable != 0, StatusByte::EVENT_SUMMARY),
            (self.operation.is_reported(), StatusByte::OPERATION),
        ];
        let set = flags.into_iter().filter(|(is_set, _)| *is_set);
        set.fold(StatusByte::NONE, |byte, (_, bit)| byte.with(bit))
    }

    fn enabled(&self, byte: StatusByte) -> StatusByte {
        byte.masked(StatusByte::from_bits(self.service_enable))
    }

    fn look(&mut self, answering: bool) {
        self.service.see(self.enabled(self.bits(answering)));
    }

    /// Called wherever a reason may have come or gone, so that none is missed that goes before a poll.
    pub(crate) fn look_for_reasons(&mut self) {
        let reasons = self.enabled(self.bits(false));
        self.service.see_beside_answers(reasons, self.service_enable);
    }
}

#[cfg(test)]
mod tests;
