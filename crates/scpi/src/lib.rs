//! The language of IEEE 488.2 and SCPI, without any input or output.
//!
//! Both ends of the wire use it: the client builds a [`Message`], frames the answer with a [`ResponseDecoder`] and
//! reads the [`Response`]; the instrument frames with a [`ProgramDecoder`], walks [`program_units`] and looks each
//! header up in a [`Tree`]. It knows no instrument, no clock and no link.
//!
//! Clause numbers of IEEE 488.2 and SCPI-1999 volume 1 are cited from memory.

mod argument;
mod decode;
mod element;
mod elements;
mod error;
mod harmless;
mod lex;
mod message;
mod number;
mod parameter;
mod pattern;
mod program;
mod read;
mod response;
mod scan;
mod status;
mod suffix;
mod tree;

pub use argument::Argument;
pub use decode::{DecodeError, Limits, ProgramDecoder, Progress, ResponseDecoder};
pub use element::{ByteOrder, Element};
pub use elements::Elements;
pub use error::{ErrorClass, ErrorCode, InstrumentError};
pub use harmless::harmless;
pub use message::{Message, MessageError};
pub use number::Number;
pub use parameter::{Decimal, Numeric, Parameter};
pub use pattern::{PatternError, short_form, spells};
pub use program::{ProgramError, ProgramUnit, ProgramUnits, program_units};
pub use read::{Expected, Identity, ReadError};
pub use response::{Response, Unit};
pub use status::{Operation, Questionable, QuestionablePower, StandardEvent, StatusByte};
pub use suffix::Quantity;
pub use tree::{Found, Tree};
