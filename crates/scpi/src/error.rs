//! The error/event numbers of SCPI-1999 volume 1, clause 21.8, their classes, and one entry of the error queue.

use std::fmt;

use crate::StandardEvent;

/// An error/event number as `SYSTem:ERRor?` reports it: negative ones are SCPI's, positive ones the maker's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ErrorCode(i16);

/// The class of an error number: it decides which standard event bit the number sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ErrorClass {
    /// `0`, and the reserved -1 to -99: nothing happened.
    NoError,
    /// -100 to -199: the message was not understood.
    Command,
    /// -200 to -299: the message was understood and could not be carried out.
    Execution,
    /// -300 to -399: something failed inside the instrument.
    Device,
    /// -400 to -499: the message exchange went wrong; the link must be resynchronised.
    Query,
    /// -500 to -599: the instrument was switched on, so every setting is gone.
    PowerOn,
    /// -600 to -699: somebody used the front panel.
    UserRequest,
    /// -700 to -799: the instrument asks for control of the bus.
    RequestControl,
    /// -800 to -899: an operation is complete, which is not an error.
    OperationComplete,
    /// Positive: defined by the maker; sets the device error bit as -3xx does.
    Maker,
    /// -900 and below: reserved.
    Reserved,
}

impl ErrorCode {
    /// Wraps any number.
    #[must_use]
    pub const fn new(number: i16) -> Self {
        Self(number)
    }

    /// The number itself.
    #[must_use]
    pub const fn number(self) -> i16 {
        self.0
    }

    /// The class that the number falls into.
    #[must_use]
    pub const fn class(self) -> ErrorClass {
        match self.0 {
            1.. => ErrorClass::Maker,
            -99..=0 => ErrorClass::NoError,
            -199..=-100 => ErrorClass::Command,
            -299..=-200 => ErrorClass::Execution,
            -399..=-300 => ErrorClass::Device,
            -499..=-400 => ErrorClass::Query,
            -599..=-500 => ErrorClass::PowerOn,
            -699..=-600 => ErrorClass::UserRequest,
            -799..=-700 => ErrorClass::RequestControl,
            -899..=-800 => ErrorClass::OperationComplete,
            ..=-900 => ErrorClass::Reserved,
        }
    }

    /// Whether the state of the link itself is wrong (-4xx).
    #[must_use]
    pub const fn is_query_error(self) -> bool {
        matches!(self.class(), ErrorClass::Query)
    }

    /// The standard event bit that an error of this number sets.
    #[must_use]
    pub const fn event(self) -> StandardEvent {
        match self.class() {
            ErrorClass::NoError | ErrorClass::Reserved => StandardEvent::NONE,
            ErrorClass::Command => StandardEvent::COMMAND_ERROR,
            ErrorClass::Execution => StandardEvent::EXECUTION_ERROR,
            ErrorClass::Device | ErrorClass::Maker => StandardEvent::DEVICE_ERROR,
            ErrorClass::Query => StandardEvent::QUERY_ERROR,
            ErrorClass::PowerOn => StandardEvent::POWER_ON,
            ErrorClass::UserRequest => StandardEvent::USER_REQUEST,
            ErrorClass::RequestControl => StandardEvent::REQUEST_CONTROL,
            ErrorClass::OperationComplete => StandardEvent::OPERATION_COMPLETE,
        }
    }
}

impl fmt::Display for ErrorCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// One entry of the error/event queue, as the instrument worded it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InstrumentError {
    /// The number.
    pub code: ErrorCode,
    /// The whole text, device-dependent information included; may be localised.
    pub text: String,
}

impl InstrumentError {
    /// An entry with the standard text of `code`, or an empty text where SCPI defines none.
    #[must_use]
    pub fn standard(code: ErrorCode) -> Self {
        Self { code, text: code.standard_text().unwrap_or_default().to_owned() }
    }

    /// The same entry with device-dependent information after a semicolon.
    #[must_use]
    pub fn with_info(mut self, info: &str) -> Self {
        self.text.push(';');
        self.text.push_str(info);
        self
    }

    /// Whether this is the answer of an empty queue.
    #[must_use]
    pub fn is_no_error(&self) -> bool {
        self.code == ErrorCode::NO_ERROR
    }

    /// The device-dependent information after the first semicolon of the text.
    #[must_use]
    pub fn info(&self) -> Option<&str> {
        self.text.split_once(';').map(|(_, info)| info)
    }
}

impl fmt::Display for InstrumentError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Debug quoting: a text from the wire must not reach a terminal with its control characters alive.
        write!(f, "{} {:?}", self.code, self.text)
    }
}

macro_rules! codes {
    ($($name:ident = $number:literal, $text:literal;)*) => {
        impl ErrorCode {
            $(#[doc = concat!("`", stringify!($number), "` ", $text, ".")]
            pub const $name: Self = Self($number);)*

            /// The text that SCPI-1999 gives to this number, for the numbers that matter here.
            #[must_use]
            pub const fn standard_text(self) -> Option<&'static str> {
                match self.0 {
                    $($number => Some($text),)*
                    _ => None,
                }
            }
        }
    };
}

codes! {
    NO_ERROR = 0, "No error";
    COMMAND_ERROR = -100, "Command error";
    INVALID_CHARACTER = -101, "Invalid character";
    SYNTAX_ERROR = -102, "Syntax error";
    INVALID_SEPARATOR = -103, "Invalid separator";
    DATA_TYPE_ERROR = -104, "Data type error";
    PARAMETER_NOT_ALLOWED = -108, "Parameter not allowed";
    MISSING_PARAMETER = -109, "Missing parameter";
    HEADER_SEPARATOR_ERROR = -111, "Header separator error";
    PROGRAM_MNEMONIC_TOO_LONG = -112, "Program mnemonic too long";
    UNDEFINED_HEADER = -113, "Undefined header";
    HEADER_SUFFIX_OUT_OF_RANGE = -114, "Header suffix out of range";
    NUMERIC_DATA_ERROR = -120, "Numeric data error";
    INVALID_CHARACTER_IN_NUMBER = -121, "Invalid character in number";
    EXPONENT_TOO_LARGE = -123, "Exponent too large";
    TOO_MANY_DIGITS = -124, "Too many digits";
    INVALID_SUFFIX = -131, "Invalid suffix";
    SUFFIX_TOO_LONG = -134, "Suffix too long";
    SUFFIX_NOT_ALLOWED = -138, "Suffix not allowed";
    INVALID_CHARACTER_DATA = -141, "Invalid character data";
    CHARACTER_DATA_TOO_LONG = -144, "Character data too long";
    INVALID_STRING_DATA = -151, "Invalid string data";
    INVALID_BLOCK_DATA = -161, "Invalid block data";
    INVALID_EXPRESSION = -171, "Invalid expression";
    EXECUTION_ERROR = -200, "Execution error";
    TRIGGER_IGNORED = -211, "Trigger ignored";
    INIT_IGNORED = -213, "Init ignored";
    TRIGGER_DEADLOCK = -214, "Trigger deadlock";
    SETTINGS_CONFLICT = -221, "Settings conflict";
    DATA_OUT_OF_RANGE = -222, "Data out of range";
    TOO_MUCH_DATA = -223, "Too much data";
    ILLEGAL_PARAMETER_VALUE = -224, "Illegal parameter value";
    DATA_CORRUPT_OR_STALE = -230, "Data corrupt or stale";
    DATA_QUESTIONABLE = -231, "Data questionable";
    HARDWARE_ERROR = -240, "Hardware error";
    HARDWARE_MISSING = -241, "Hardware missing";
    DEVICE_SPECIFIC_ERROR = -300, "Device-specific error";
    SYSTEM_ERROR = -310, "System error";
    SELF_TEST_FAILED = -330, "Self-test failed";
    CALIBRATION_FAILED = -340, "Calibration failed";
    QUEUE_OVERFLOW = -350, "Queue overflow";
    COMMUNICATION_ERROR = -360, "Communication error";
    PARITY_ERROR = -361, "Parity error in program message";
    FRAMING_ERROR = -362, "Framing error in program message";
    INPUT_BUFFER_OVERRUN = -363, "Input buffer overrun";
    QUERY_ERROR = -400, "Query error";
    QUERY_INTERRUPTED = -410, "Query INTERRUPTED";
    QUERY_UNTERMINATED = -420, "Query UNTERMINATED";
    QUERY_DEADLOCKED = -430, "Query DEADLOCKED";
    QUERY_UNTERMINATED_AFTER_INDEFINITE = -440, "Query UNTERMINATED after indefinite response";
    POWER_ON = -500, "Power on";
    USER_REQUEST = -600, "User request";
    REQUEST_CONTROL = -700, "Request control";
    OPERATION_COMPLETE = -800, "Operation complete";
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ranges and event bits: SCPI-1999 volume 1, clauses 21.8.8 to 21.8.16; bits of IEEE 488.2 clause 11.5.1.
    #[test]
    fn classes_and_event_bits() {
        let table = [
            (0, ErrorClass::NoError, 0x00),
            (-99, ErrorClass::NoError, 0x00),
            (-100, ErrorClass::Command, 0x20),
            (-199, ErrorClass::Command, 0x20),
            (-200, ErrorClass::Execution, 0x10),
            (-299, ErrorClass::Execution, 0x10),
            (-300, ErrorClass::Device, 0x08),
            (-399, ErrorClass::Device, 0x08),
            (-400, ErrorClass::Query, 0x04),
            (-499, ErrorClass::Query, 0x04),
            (-500, ErrorClass::PowerOn, 0x80),
            (-600, ErrorClass::UserRequest, 0x40),
            (-700, ErrorClass::RequestControl, 0x02),
            (-800, ErrorClass::OperationComplete, 0x01),
            (-900, ErrorClass::Reserved, 0x00),
            (i16::MIN, ErrorClass::Reserved, 0x00),
            (1, ErrorClass::Maker, 0x08),
            (i16::MAX, ErrorClass::Maker, 0x08),
        ];
        for (number, class, bits) in table {
            let code = ErrorCode::new(number);
            assert_eq!((code.class(), code.event().bits()), (class, bits), "{number}");
            assert_eq!(code.is_query_error(), class == ErrorClass::Query, "{number}");
        }
    }

    /// Texts: SCPI-1999 volume 1, clause 21.8.
    #[test]
    fn standard_texts() {
        for (number, text) in [
            (0, Some("No error")),
            (-113, Some("Undefined header")),
            (-222, Some("Data out of range")),
            (-350, Some("Queue overflow")),
            (-410, Some("Query INTERRUPTED")),
            (-999, None),
            (17, None),
        ] {
            assert_eq!(ErrorCode::new(number).standard_text(), text, "{number}");
        }
    }

    #[test]
    fn entries_print_and_keep_their_information() {
        let entry = InstrumentError::standard(ErrorCode::UNDEFINED_HEADER).with_info("FREK");
        assert_eq!(entry.to_string(), r#"-113 "Undefined header;FREK""#);
        assert_eq!(entry.info(), Some("FREK"));
        assert!(!entry.is_no_error());
        let hostile = InstrumentError { code: ErrorCode::new(5), text: "a\u{1b}[2J".to_owned() };
        assert_eq!(hostile.to_string(), r#"5 "a\u{1b}[2J""#);
    }
}
