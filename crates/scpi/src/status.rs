//! The status registers: status byte, standard event register, QUEStionable and OPERation.
//!
//! How the registers are linked to one another is the instrument's affair; here are only the bits.

macro_rules! register {
    ($(#[$about:meta])* $name:ident: $repr:ty, mask $mask:literal, $($(#[$doc:meta])* $bit:ident = $position:literal;)*) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
        pub struct $name($repr);

        impl $name {
            /// No bit set.
            pub const NONE: Self = Self(0);
            $($(#[$doc])* pub const $bit: Self = Self(1 << $position);)*

            /// From the number that the instrument reports; bits that can never be used are dropped.
            #[must_use]
            pub const fn from_bits(bits: $repr) -> Self {
                Self(bits & $mask)
            }

            /// The number as it goes over the wire.
            #[must_use]
            pub const fn bits(self) -> $repr {
                self.0
            }

            /// Whether no bit is set.
            #[must_use]
            pub const fn is_empty(self) -> bool {
                self.0 == 0
            }

            /// Whether every bit of `other` is set.
            #[must_use]
            pub const fn contains(self, other: Self) -> bool {
                self.0 & other.0 == other.0
            }

            /// The bits of both.
            #[must_use]
            pub const fn with(self, other: Self) -> Self {
                Self(self.0 | other.0)
            }

            /// These bits without those of `other`.
            #[must_use]
            pub const fn without(self, other: Self) -> Self {
                Self(self.0 & !other.0)
            }

            /// The bits that both have, as an enable mask selects them.
            #[must_use]
            pub const fn masked(self, mask: Self) -> Self {
                Self(self.0 & mask.0)
            }
        }
    };
}

register! {
    /// The status byte of `*STB?` or a serial poll (IEEE 488.2 clause 11.2, SCPI-1999 volume 1 chapter 9).
    StatusByte: u8, mask 0xff,
    /// The error/event queue is not empty.
    ERROR_QUEUE = 2;
    /// The summary of the QUEStionable register.
    QUESTIONABLE = 3;
    /// MAV: an answer waits in the output queue.
    MESSAGE_AVAILABLE = 4;
    /// ESB: the summary of the standard event register.
    EVENT_SUMMARY = 5;
    /// MSS in the answer to `*STB?`, RQS in a serial poll.
    MASTER_SUMMARY = 6;
    /// The summary of the OPERation register.
    OPERATION = 7;
}

register! {
    /// The standard event register of `*ESR?`, cleared by reading (IEEE 488.2 clause 11.5.1).
    StandardEvent: u8, mask 0xff,
    /// OPC: all pending operations are finished.
    OPERATION_COMPLETE = 0;
    /// RQC: the instrument asks for control.
    REQUEST_CONTROL = 1;
    /// QYE: the message exchange went wrong.
    QUERY_ERROR = 2;
    /// DDE: a fault of the instrument's own.
    DEVICE_ERROR = 3;
    /// EXE: a command could not be carried out.
    EXECUTION_ERROR = 4;
    /// CME: a command was not understood.
    COMMAND_ERROR = 5;
    /// URQ: somebody used the front panel.
    USER_REQUEST = 6;
    /// PON: the power was switched on since the register was last read; all settings are gone.
    POWER_ON = 7;
}

register! {
    /// `STATus:QUEStionable`: which quantities cannot be trusted (SCPI-1999 volume 1 chapter 9). Bit 15 is never used.
    Questionable: u16, mask 0x7fff,
    /// Voltage.
    VOLTAGE = 0;
    /// Current.
    CURRENT = 1;
    /// Time.
    TIME = 2;
    /// Power; an analyser reports overload here.
    POWER = 3;
    /// Temperature.
    TEMPERATURE = 4;
    /// Frequency.
    FREQUENCY = 5;
    /// Phase.
    PHASE = 6;
    /// Modulation.
    MODULATION = 7;
    /// Calibration.
    CALIBRATION = 8;
    /// The summary of the instrument's own sub-registers.
    INSTRUMENT_SUMMARY = 13;
    /// A command was carried out in a way the user may not have meant.
    COMMAND_WARNING = 14;
}

register! {
    /// `STATus:QUEStionable:POWer`, summed up in bit 3 of `STATus:QUEStionable`. SCPI leaves its bits to the maker; that
    /// the first is the input's overload is common practice. Bit 15 is never used.
    QuestionablePower: u16, mask 0x7fff,
    /// More power at the input than is measured rightly.
    OVERLOAD = 0;
}

register! {
    /// `STATus:OPERation`: what the instrument is doing (SCPI-1999 volume 1 chapter 9). Bit 15 is never used.
    Operation: u16, mask 0x7fff,
    /// Calibrating.
    CALIBRATING = 0;
    /// Settling.
    SETTLING = 1;
    /// Changing range.
    RANGING = 2;
    /// Sweeping.
    SWEEPING = 3;
    /// Measuring.
    MEASURING = 4;
    /// Waiting for the trigger layer.
    WAITING_FOR_TRIGGER = 5;
    /// Waiting for the arm layer.
    WAITING_FOR_ARM = 6;
    /// Correcting.
    CORRECTING = 7;
    /// The summary of the instrument's own sub-registers.
    INSTRUMENT_SUMMARY = 13;
    /// A program is running in the instrument.
    PROGRAM_RUNNING = 14;
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Weights: IEEE 488.2 clauses 11.2 and 11.5.1 and SCPI-1999 volume 1 chapter 9, from memory.
    #[test]
    fn weights() {
        assert_eq!(StatusByte::MESSAGE_AVAILABLE.bits(), 16);
        assert_eq!(StatusByte::EVENT_SUMMARY.bits(), 32);
        assert_eq!(StatusByte::MASTER_SUMMARY.bits(), 64);
        assert_eq!(StandardEvent::POWER_ON.bits(), 128);
        assert_eq!(StandardEvent::OPERATION_COMPLETE.bits(), 1);
        assert_eq!(Questionable::POWER.bits(), 8);
        assert_eq!(Questionable::CALIBRATION.bits(), 256);
        assert_eq!(Operation::SWEEPING.bits(), 8);
        assert_eq!(Operation::MEASURING.bits(), 16);
    }

    #[test]
    fn bits_combine_and_bit_fifteen_is_dropped() {
        let both = Questionable::POWER.with(Questionable::FREQUENCY);
        assert_eq!(both.bits(), 40);
        assert!(both.contains(Questionable::POWER) && !both.contains(Questionable::PHASE));
        assert_eq!(both.without(Questionable::POWER), Questionable::FREQUENCY);
        assert_eq!(both.masked(Questionable::POWER), Questionable::POWER);
        assert!(Questionable::from_bits(0x8000).is_empty());
    }
}
