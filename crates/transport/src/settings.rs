//! What a link must know of the instrument's dialect and of the serial line, beside the address.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use thiserror::Error;

/// How messages are marked, paced and cleaned on a link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LinkSettings {
    /// What is sent behind every message.
    pub terminator: Terminator,
    /// How the end of an answer is told on a stream; a link of messages knows it by itself.
    pub answers_end: AnswersEnd,
    /// How long the line rests between one message and the next.
    pub pause: Duration,
    /// Whether the instrument sends back what it gets, before it answers.
    pub echo: bool,
    /// What the instrument shows when it is ready for the next message; empty if nothing.
    pub prompt: String,
    /// How long connecting may take, and each step of a handshake.
    pub connect_within: Duration,
    /// The serial line, for an address that is one.
    pub line: SerialLine,
}

impl Default for LinkSettings {
    fn default() -> Self {
        Self {
            terminator: Terminator::default(),
            answers_end: AnswersEnd::default(),
            pause: Duration::ZERO,
            echo: false,
            prompt: String::new(),
            connect_within: Duration::from_secs(4),
            line: SerialLine::default(),
        }
    }
}

/// What is sent behind a message.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Terminator {
    /// A new line, as IEEE 488.2 has it.
    #[default]
    Lf,
    /// A carriage return and a new line.
    CrLf,
    /// A carriage return alone; an answer may then end with one as well.
    Cr,
}

impl Terminator {
    /// The bytes.
    #[must_use]
    pub const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Lf => b"\n",
            Self::CrLf => b"\r\n",
            Self::Cr => b"\r",
        }
    }
}

/// How the end of an answer is told on a stream.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AnswersEnd {
    /// A terminator.
    #[default]
    Terminator,
    /// The instrument falls quiet for so long. A terminator ends the answer as well.
    Silence(Duration),
}

/// How a serial line is set. There is no flow control by characters: it would take bytes out of binary traces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SerialLine {
    /// Bits per second.
    pub baud: u32,
    /// What a character is made of.
    pub framing: SerialFraming,
    /// Who may make the other wait.
    pub flow: SerialFlow,
}

impl Default for SerialLine {
    fn default() -> Self {
        Self { baud: 9600, framing: SerialFraming::default(), flow: SerialFlow::None }
    }
}

/// Flow control of a serial line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SerialFlow {
    /// None.
    #[default]
    None,
    /// By the lines RTS and CTS.
    RtsCts,
}

/// Parity of a serial line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SerialParity {
    /// None.
    #[default]
    None,
    /// Even.
    Even,
    /// Odd.
    Odd,
}

/// What a character on a serial line is made of, written `8N1`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SerialFraming {
    data_bits: u8,
    parity: SerialParity,
    stop_bits: u8,
}

impl SerialFraming {
    /// Data bits, from 5 to 8.
    #[must_use]
    pub const fn data_bits(self) -> u8 {
        self.data_bits
    }

    /// Parity.
    #[must_use]
    pub const fn parity(self) -> SerialParity {
        self.parity
    }

    /// Stop bits, 1 or 2.
    #[must_use]
    pub const fn stop_bits(self) -> u8 {
        self.stop_bits
    }
}

impl Default for SerialFraming {
    fn default() -> Self {
        Self { data_bits: 8, parity: SerialParity::None, stop_bits: 1 }
    }
}

/// A text is not the framing of a serial line; the second line is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error(
    "expected a framing such as `8N1`, found `{0}`\nwrite data bits (5 to 8), parity (N, E or O) and stop bits (1 or 2)"
)]
pub struct FramingError(String);

impl FromStr for SerialFraming {
    type Err = FramingError;

    fn from_str(text: &str) -> Result<Self, FramingError> {
        let wrong = || FramingError(text.to_owned());
        let [data @ b'5'..=b'8', parity, stop @ b'1'..=b'2'] = *text.as_bytes() else { return Err(wrong()) };
        let parity = match parity.to_ascii_uppercase() {
            b'N' => SerialParity::None,
            b'E' => SerialParity::Even,
            b'O' => SerialParity::Odd,
            _ => return Err(wrong()),
        };
        Ok(Self { data_bits: data - b'0', parity, stop_bits: stop - b'0' })
    }
}

impl fmt::Display for SerialFraming {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parity = match self.parity {
            SerialParity::None => 'N',
            SerialParity::Even => 'E',
            SerialParity::Odd => 'O',
        };
        write!(f, "{}{parity}{}", self.data_bits, self.stop_bits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn framings_read_and_print() {
        for text in ["8N1", "7E2", "5O1"] {
            assert_eq!(text.parse::<SerialFraming>().unwrap().to_string(), text);
        }
        assert_eq!("8n1".parse(), Ok(SerialFraming::default()));
        for text in ["", "8N", "9N1", "8X1", "8N3", "8N1 ", "4N1", "8N1.5"] {
            assert!(text.parse::<SerialFraming>().is_err(), "{text}");
        }
    }
}
