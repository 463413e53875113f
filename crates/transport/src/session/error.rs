//! Why a question was not answered.

use spurline_scpi::{
    ErrorClass, ErrorCode, Identity, InstrumentError, Message, MessageError, ReadError, harmless,
};
use thiserror::Error;

use crate::link::LinkError;

/// Why a question was not answered.
#[derive(Debug, Error)]
pub enum SessionError {
    /// The question could not be written.
    #[error("the command cannot be sent")]
    Message(#[from] MessageError),
    /// The link failed.
    #[error("the link to the {name} at {address} failed")]
    Link {
        /// Whose link.
        name: String,
        /// Where.
        address: String,
        /// Why.
        #[source]
        source: LinkError,
    },
    /// The connection was made, and nobody answers on it.
    #[error("the {name} at {address} takes the connection and does not answer")]
    Busy {
        /// Who.
        name: String,
        /// Where.
        address: String,
    },
    /// Something else comes back than what every instrument must answer.
    #[error("expected `{expected}` from the {name} at {address}, found `{found}`")]
    Garbled {
        /// Who.
        name: String,
        /// Where.
        address: String,
        /// What every instrument must answer.
        expected: String,
        /// What came last.
        found: String,
    },
    /// What is sent comes back.
    #[error("the {name} at {address} sends back what it is sent")]
    Echo {
        /// Who.
        name: String,
        /// Where.
        address: String,
    },
    /// Nothing came in time.
    #[error("the {name} at {address} did not answer `{asked}` within {seconds} s")]
    Silent {
        /// Who.
        name: String,
        /// Where.
        address: String,
        /// What was asked.
        asked: String,
        /// The deadline.
        seconds: f64,
    },
    /// The instrument put errors into its queue.
    #[error("the {name} refused `{asked}`: {}", join(.errors))]
    Refused {
        /// Who.
        name: String,
        /// What was asked.
        asked: String,
        /// The errors, oldest first.
        errors: Vec<InstrumentError>,
    },
    /// The answer is not what was asked for.
    #[error("the {name} answered `{asked}` with something else")]
    Answer {
        /// Who.
        name: String,
        /// What was asked.
        asked: String,
        /// What is wrong with it.
        #[source]
        source: ReadError,
    },
    /// The order of question and answer could not be restored.
    #[error("the link to the {name} at {address} is out of step and did not come back")]
    OutOfStep {
        /// Who.
        name: String,
        /// Where.
        address: String,
    },
    /// The instrument was switched off and on: its settings are gone.
    #[error("the {name} at {address} was switched off and on")]
    PowerCycled {
        /// Who.
        name: String,
        /// Where.
        address: String,
    },
    /// Another instrument answers than before.
    #[error("expected the {name} with serial number `{}` at {address} again, found {} {} with serial number `{}`", fit(&.before.serial), fit(&.found.maker), fit(&.found.model), fit(&.found.serial))]
    Another {
        /// Whose place it has taken.
        name: String,
        /// Where.
        address: String,
        /// Who answered before.
        before: Box<Identity>,
        /// Who answers now.
        found: Box<Identity>,
    },
    /// The link could not be made again in time.
    #[error("the link to the {name} did not come back: {tries} attempt(s) in {seconds} s")]
    GivenUp {
        /// Who.
        name: String,
        /// How often it was tried.
        tries: u32,
        /// For how long.
        seconds: f64,
        /// How the last attempt ended.
        #[source]
        last: Box<SessionError>,
    },
}

/// A field of an identity as an error tells it.
fn fit(field: &str) -> String {
    harmless(field, LONGEST_TOLD)
}

/// A message as an error tells it: long ones by their beginning.
pub(super) fn told(message: &Message) -> String {
    shortened(&message.to_string())
}

/// What came, in one short line.
pub(super) fn shown(bytes: &[u8]) -> String {
    shortened(&bytes.escape_ascii().to_string())
}

const LONGEST_TOLD: usize = 60;

fn shortened(text: &str) -> String {
    match text.char_indices().nth(LONGEST_TOLD) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

fn join(errors: &[InstrumentError]) -> String {
    errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

impl SessionError {
    /// Whether the exchange alone was disturbed, on a link that is there: once it is back in step, the same may be
    /// asked again.
    #[must_use]
    pub fn is_in_the_exchange(&self) -> bool {
        match self {
            Self::Silent { .. } | Self::Answer { .. } => true,
            Self::Link { source, .. } => source.is_passing(),
            // A character that was lost on the way looks like a command that nobody knows.
            Self::Refused { errors, .. } => {
                unknown(errors)
                    || errors.iter().all(|error| tells_of_the_link(error.code) || is_command(error.code))
            }
            _ => false,
        }
    }

    /// Whether the same may succeed once the link has been made again and the instrument set up anew.
    #[must_use]
    pub fn is_of_the_link(&self) -> bool {
        match self {
            Self::Link { .. }
            | Self::Busy { .. }
            | Self::Silent { .. }
            | Self::Answer { .. }
            | Self::OutOfStep { .. }
            | Self::PowerCycled { .. } => true,
            Self::Refused { errors, .. } => {
                unknown(errors) || errors.iter().all(|error| tells_of_the_link(error.code))
            }
            Self::Message(_)
            | Self::Garbled { .. }
            | Self::Echo { .. }
            | Self::Another { .. }
            | Self::GivenUp { .. } => false,
        }
    }
}

/// Whether the queue ran over: which errors there were nobody knows, nor whose they are.
fn unknown(errors: &[InstrumentError]) -> bool {
    errors.iter().any(|error| error.code == ErrorCode::QUEUE_OVERFLOW)
}

fn is_command(code: ErrorCode) -> bool {
    code.class() == ErrorClass::Command
}

/// Whether an entry of the error queue tells of the exchange, or of what was left over from the one before, and not
/// of what was asked.
fn tells_of_the_link(code: ErrorCode) -> bool {
    matches!(
        code,
        ErrorCode::INIT_IGNORED
            | ErrorCode::DATA_CORRUPT_OR_STALE
            | ErrorCode::COMMUNICATION_ERROR
            | ErrorCode::PARITY_ERROR
            | ErrorCode::FRAMING_ERROR
            | ErrorCode::INPUT_BUFFER_OVERRUN
    ) || matches!(code.class(), ErrorClass::Query | ErrorClass::PowerOn)
}

#[cfg(test)]
mod tests {
    use bytes::Bytes;
    use spurline_scpi::Response;

    use super::*;

    /// ESC and RIGHT-TO-LEFT OVERRIDE in an entry of the error queue and in an identity.
    #[test]
    fn what_an_instrument_says_does_nothing_to_a_terminal() {
        let read =
            |answer: &'static [u8]| Response::parse(Bytes::from_static(answer)).unwrap().units.remove(0);
        let entry = read(b"-113,\"\x1b]0;owned\x07 \xe2\x80\xaex\"").error_entry().unwrap();
        let refused =
            SessionError::Refused { name: "analyser".into(), asked: "X".into(), errors: vec![entry] };
        let identity = Box::new(read(b"A\x1b[2J,\xe2\x80\xaex,1,2").identity().unwrap());
        let (name, address) = ("analyser".to_owned(), "a".to_owned());
        let another = SessionError::Another { name, address, before: identity.clone(), found: identity };
        for told in [refused.to_string(), another.to_string()] {
            assert!(!told.contains(['\u{1b}', '\u{7}', '\u{202e}']), "{told:?}");
        }
    }
}
