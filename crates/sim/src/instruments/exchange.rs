//! What a link does to an instrument beside its messages: clear, poll, trigger, and the errors of the exchange itself.
//!
//! Whether a link queues answers or lets a new message interrupt the old answer is the link's own affair; here the
//! instrument only learns of it (IEEE 488.2 clause 6.3).

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, InstrumentError, StatusByte};

use super::device::Device;
use super::engine::Instrument;

impl<D: Device> Instrument<D> {
    /// INTERRUPTED: a new message came before the answer was read. The link has dropped the answer.
    pub(crate) fn interrupted(&mut self) {
        self.note(ErrorCode::QUERY_INTERRUPTED);
    }

    /// UNTERMINATED: the client wants to read although nothing was asked, or before its message had ended.
    pub(crate) fn unterminated(&mut self) {
        self.note(ErrorCode::QUERY_UNTERMINATED);
    }

    /// Device clear (IEEE 488.2 clause 5.8): messages under way are given up without answer, and with them every wait
    /// of `*OPC`, `*OPC?` and `*WAI`. Settings, what is being measured, status registers and error queue stay. What the
    /// link holds of input and output is the link's to drop.
    pub(crate) fn device_clear(&mut self) {
        self.cleared += 1;
        self.completing = false;
    }

    /// The status byte as a serial poll sees it: bit 6 is RQS and goes with the poll, whereas MSS of `*STB?` stays.
    /// `answering` tells whether an answer waits on the link that polls.
    pub(crate) fn status_byte(&mut self, now: Moment, answering: bool) -> StatusByte {
        self.settle(now);
        self.status.poll(answering)
    }

    /// Whether service is requested (SRQ), which a poll would answer; changes nothing.
    pub(crate) fn requests_service(&mut self, now: Moment, answering: bool) -> bool {
        self.settle(now);
        self.status.requests_service(answering)
    }

    /// Group execute trigger, as `*TRG`: starts what waits for a trigger from the bus, else -211.
    pub(crate) fn trigger(&mut self, now: Moment) {
        self.settle(now);
        if let Err(code) = self.device.trigger(now) {
            self.status.push(InstrumentError::standard(code));
        }
        self.settle(now);
    }

    /// Switched off and on again: messages under way are lost, what `*SAV` and `*PSC` keep stays. `device` is as it is
    /// when it has just been switched on.
    pub(crate) fn power_cycle(&mut self, device: D, now: Moment) {
        self.device_clear();
        self.device = device;
        self.display = true;
        // What the device holds in the world, such as a closed contact, goes with its power.
        self.device.preset(now);
        self.status.power_on();
        self.settle(now);
    }
}
