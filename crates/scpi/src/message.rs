//! One program message under construction on the client's side.
//!
//! Every unit starts at the root: relative headers let one wrong unit shift the meaning of all that follow.

use std::fmt;
use std::ops::Range;

use crate::Argument;
use crate::argument::is_mnemonic;

/// Why a unit cannot be part of a message.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MessageError {
    /// Not a header.
    #[error("expected a header such as `FREQ:CENT` or `*RST`, found `{found}`")]
    Header {
        /// What stands in its place.
        found: String,
    },
    /// A number that SCPI cannot carry.
    #[error("expected a finite number, found {value}")]
    NotFinite {
        /// The value.
        value: f64,
    },
    /// A bare word with characters that need quotes.
    #[error("expected a word of letters, digits and underscores, found `{found}`")]
    Word {
        /// What stands in its place.
        found: String,
    },
    /// A newline or another control character, which would end or garble the message.
    #[error("expected text without control characters, found {found:?}")]
    ControlCharacter {
        /// The text.
        found: String,
    },
    /// A quote that is opened and not closed.
    #[error("expected a closing quote in `{found}`")]
    StringNotClosed {
        /// The text.
        found: String,
    },
    /// Several units where one was asked for.
    #[error("expected a single unit, found `;` in `{found}`")]
    SeveralUnits {
        /// The text.
        found: String,
    },
    /// A unit that depends on the one before it.
    #[error("expected `:` or `*` after `;`, found `{found}`")]
    RelativeHeader {
        /// The unit.
        found: String,
    },
}

/// One program message: units joined by `;:`, common commands by `;`. Holds no terminator.
///
/// ```
/// use spurline_scpi::Message;
///
/// let message = Message::new()
///     .command("FREQ:CENT", [432_123_456.7.into()])?
///     .command("INIT", [])?
///     .query("*OPC", [])?;
/// assert_eq!(message.to_string(), "FREQ:CENT 432123456.7;:INIT;*OPC?");
/// assert_eq!(message.queries(), 1);
/// # Ok::<(), spurline_scpi::MessageError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Message {
    text: String,
    units: Vec<Range<usize>>,
}

impl Message {
    /// An empty message.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a command.
    ///
    /// # Errors
    /// When `header` is not one, or an argument cannot be written.
    pub fn command(
        self,
        header: &str,
        arguments: impl IntoIterator<Item = Argument>,
    ) -> Result<Self, MessageError> {
        self.assembled(header, "", arguments)
    }

    /// Adds a query; `header` is given without its question mark.
    ///
    /// # Errors
    /// When `header` is not one, or an argument cannot be written.
    pub fn query(
        self,
        header: &str,
        arguments: impl IntoIterator<Item = Argument>,
    ) -> Result<Self, MessageError> {
        self.assembled(header, "?", arguments)
    }

    /// Adds one unit that is already spelled out, such as `FREQ:CENT 1000` or `CALC:MARK:X?`.
    ///
    /// # Errors
    /// When it is not exactly one well-formed unit.
    pub fn unit(self, text: &str) -> Result<Self, MessageError> {
        match split_units(text)?[..] {
            [unit] => self.checked(unit),
            _ => Err(MessageError::SeveralUnits { found: text.to_owned() }),
        }
    }

    /// Adds several units that are already spelled out and joined, each from the root: `BAND:AUTO OFF;:BAND 1000`.
    ///
    /// # Errors
    /// When one is not well-formed, or depends on the one before it.
    pub fn compound(self, text: &str) -> Result<Self, MessageError> {
        let units = split_units(text)?;
        if let Some(relative) = units.iter().skip(1).find(|unit| !unit.starts_with([':', '*'])) {
            return Err(MessageError::RelativeHeader { found: (*relative).to_owned() });
        }
        units.into_iter().try_fold(self, Self::checked)
    }

    /// Adds all units of another message.
    #[must_use]
    pub fn then(self, other: &Self) -> Self {
        other.units().fold(self, Self::pushed)
    }

    /// The units in order, each without a leading colon.
    pub fn units(&self) -> impl Iterator<Item = &str> {
        self.units.iter().map(|range| &self.text[range.clone()])
    }

    /// How many response units the instrument owes for this message.
    #[must_use]
    pub fn queries(&self) -> usize {
        self.units().filter(|unit| split_header(unit).0.ends_with('?')).count()
    }

    /// The bytes to send, without terminator.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        self.text.as_bytes()
    }

    /// The number of bytes, without terminator.
    #[must_use]
    pub fn len(&self) -> usize {
        self.text.len()
    }

    /// Whether there is nothing to send.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// The same units in messages of at most `longest` bytes each, for small input buffers. A unit that is longer
    /// by itself stays whole in a message of its own.
    #[must_use]
    pub fn split(&self, longest: usize) -> Vec<Self> {
        let mut parts: Vec<Self> = Vec::new();
        for unit in self.units() {
            match parts.last_mut() {
                Some(part) if part.len() + joint(unit).len() + unit.len() <= longest => part.push(unit),
                _ => parts.push(Self::new().pushed(unit)),
            }
        }
        parts
    }

    fn assembled(
        self,
        header: &str,
        mark: &str,
        arguments: impl IntoIterator<Item = Argument>,
    ) -> Result<Self, MessageError> {
        let header = header_path(header)?;
        let arguments: Vec<String> =
            arguments.into_iter().map(|argument| argument.encode()).collect::<Result<_, _>>()?;
        let blank = if arguments.is_empty() { "" } else { " " };
        Ok(self.pushed(&format!("{header}{mark}{blank}{}", arguments.join(","))))
    }

    fn checked(self, unit: &str) -> Result<Self, MessageError> {
        let (header, rest) = split_header(unit);
        let (path, mark) = match header.strip_suffix('?') {
            Some(path) => (path, "?"),
            None => (header, ""),
        };
        let path = header_path(path)?;
        let blank = if rest.is_empty() { "" } else { " " };
        Ok(self.pushed(&format!("{path}{mark}{blank}{rest}")))
    }

    fn pushed(mut self, unit: &str) -> Self {
        self.push(unit);
        self
    }

    fn push(&mut self, unit: &str) {
        if !self.units.is_empty() {
            self.text.push_str(joint(unit));
        }
        let start = self.text.len();
        self.text.push_str(unit);
        self.units.push(start..self.text.len());
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

fn joint(unit: &str) -> &'static str {
    if unit.starts_with('*') { ";" } else { ";:" }
}

/// The header without its leading colon, if it is one.
fn header_path(header: &str) -> Result<&str, MessageError> {
    let bad = || MessageError::Header { found: header.to_owned() };
    if let Some(name) = header.strip_prefix('*') {
        return if is_mnemonic(name) { Ok(header) } else { Err(bad()) };
    }
    let path = header.strip_prefix(':').unwrap_or(header);
    if path.split(':').all(is_mnemonic) { Ok(path) } else { Err(bad()) }
}

fn split_header(unit: &str) -> (&str, &str) {
    let (header, rest) = unit.split_once([' ', '\t']).unwrap_or((unit, ""));
    (header, rest.trim())
}

/// Cuts at semicolons outside quotes.
fn split_units(text: &str) -> Result<Vec<&str>, MessageError> {
    if text.contains(|c: char| c.is_control() && c != '\t') {
        return Err(MessageError::ControlCharacter { found: text.to_owned() });
    }
    let mut quote = None;
    let mut start = 0;
    let mut units = Vec::new();
    for (at, c) in text.char_indices() {
        match (quote, c) {
            (None, '"' | '\'') => quote = Some(c),
            (Some(open), _) if open == c => quote = None,
            (None, ';') => {
                units.push(text[start..at].trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    if quote.is_some() {
        return Err(MessageError::StringNotClosed { found: text.to_owned() });
    }
    units.push(text[start..].trim());
    Ok(units)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Joints: SCPI-1999 volume 1, clause 6.2.4 (a leading colon starts at the root, common commands keep the
    /// path). Number: 432 123 456.7 Hz needs ten digits, of which a six-digit mantissa loses 43 Hz.
    #[test]
    fn units_are_absolute_and_numbers_plain() {
        let message = Message::new()
            .command("FREQ:CENT", [432_123_456.7.into()])
            .and_then(|m| m.command(":FREQ:SPAN", [1e-7.into()]))
            .and_then(|m| m.command("*WAI", []))
            .and_then(|m| m.command("FORM", ["REAL".into(), 32_u32.into()]))
            .and_then(|m| m.command("INIT:CONT", [false.into()]))
            .and_then(|m| m.command("DISP:TEXT", [Argument::String("say \"hi\"; ?".to_owned())]))
            .and_then(|m| m.query("FREQ:STOP", ["MAX".into()]))
            .and_then(|m| m.unit("SYST:ERR?"))
            .unwrap();
        assert_eq!(
            message.to_string(),
            "FREQ:CENT 432123456.7;:FREQ:SPAN 0.0000001;*WAI;:FORM REAL,32;:INIT:CONT 0;\
             :DISP:TEXT \"say \"\"hi\"\"; ?\";:FREQ:STOP? MAX;:SYST:ERR?"
        );
        assert_eq!(message.queries(), 2);
        assert_eq!(message.len(), message.as_bytes().len());
    }

    #[test]
    fn ready_made_units() {
        let message = Message::new().compound("BAND:AUTO OFF;:BAND  1000 ; *OPC?").unwrap();
        assert_eq!(message.to_string(), "BAND:AUTO OFF;:BAND 1000;*OPC?");
        assert_eq!(message.units().collect::<Vec<_>>(), ["BAND:AUTO OFF", "BAND 1000", "*OPC?"]);
        let text = Message::new().unit("DISP:TEXT 'a;b?'").unwrap();
        assert_eq!((text.queries(), text.units().count()), (0, 1));
    }

    #[test]
    fn refused_units() {
        let header = |found: &str| MessageError::Header { found: found.to_owned() };
        assert_eq!(Message::new().command("FREQ?", []), Err(header("FREQ?")));
        assert_eq!(Message::new().command("", []), Err(header("")));
        assert_eq!(Message::new().command("FREQ:", []), Err(header("FREQ:")));
        assert_eq!(
            Message::new().unit("FREQ;"),
            Err(MessageError::SeveralUnits { found: "FREQ;".to_owned() })
        );
        assert_eq!(
            Message::new().compound("A;B"),
            Err(MessageError::RelativeHeader { found: "B".to_owned() })
        );
        assert_eq!(
            Message::new().compound("A;;:B"),
            Err(MessageError::RelativeHeader { found: String::new() })
        );
        assert!(matches!(Message::new().unit("A\nB"), Err(MessageError::ControlCharacter { .. })));
        assert!(matches!(Message::new().unit("A \"b"), Err(MessageError::StringNotClosed { .. })));
        let number = Message::new().command("FREQ", [f64::NAN.into()]);
        assert!(matches!(number, Err(MessageError::NotFinite { value }) if value.is_nan()));
        let word = Message::new().command("DET", ["A,B".into()]);
        assert_eq!(word, Err(MessageError::Word { found: "A,B".to_owned() }));
    }

    #[test]
    fn splitting_keeps_units_whole() {
        let message = Message::new().compound("AAA 1;:BBB 2;*OPC?;:CCCCCCCCCCCCCCC 3").unwrap();
        let parts: Vec<String> = message.split(12).iter().map(ToString::to_string).collect();
        assert_eq!(parts, ["AAA 1;:BBB 2", "*OPC?", "CCCCCCCCCCCCCCC 3"]);
        assert!(Message::new().split(12).is_empty());
    }

    proptest! {
        #[test]
        fn numbers_read_back_without_exponent(value in any::<f64>().prop_filter("finite", |v| v.is_finite())) {
            let message = Message::new().command("X", [value.into()]).unwrap();
            let digits = message.to_string().split_off(2);
            prop_assert!(digits.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-'));
            prop_assert_eq!(digits.parse::<f64>().unwrap(), value);
        }

        #[test]
        fn split_then_joined_is_the_same(lengths in prop::collection::vec(1_usize..12, 0..12), longest in 1_usize..40) {
            let message = lengths.iter().fold(Message::new(), |m, &n| m.unit(&"A".repeat(n)).unwrap());
            let parts = message.split(longest);
            let fits = |m: &Message| m.len() <= longest || m.units().count() == 1;
            prop_assert!(parts.iter().all(fits));
            prop_assert_eq!(parts.iter().fold(Message::new(), |m, part| m.then(part)), message);
        }

        #[test]
        fn ready_made_text_never_panics(text in any::<String>()) {
            if let Ok(message) = Message::new().compound(&text) {
                prop_assert!(message.queries() <= message.units().count());
            }
        }
    }
}
