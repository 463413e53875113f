//! The units of a program message as texts that can be sent one by one, in any order.

use spurline_scpi::program_units;

/// A mnemonic that stands in no tree.
const NOWHERE: &str = "NOWHERE";

/// One unit, its header written out from the root.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Unit {
    /// What the instrument is to be told.
    pub(super) text: Vec<u8>,
    /// The header from the root, in capitals and without `:` in front and `?` behind.
    pub(super) header: String,
    pub(super) query: bool,
    /// Whether anything follows the header.
    pub(super) has_parameters: bool,
}

impl Unit {
    /// Turns its header into one that no instrument here knows.
    pub(super) fn forget(&mut self) {
        let query = if self.query { "?" } else { "" };
        let header = &self.header;
        let unknown = if header.starts_with('*') {
            format!("{header}{NOWHERE}{query}")
        } else {
            format!(":{header}:{NOWHERE}{query}")
        };
        self.text = unknown.into_bytes();
    }

    /// Whether it sets something that can be read back.
    pub(super) fn is_setting(&self) -> bool {
        self.has_parameters && !self.query && !self.header.starts_with('*')
    }
}

/// The units of a message. What cannot be read stands as it is in the last one.
pub(super) fn units(message: &[u8]) -> Vec<Unit> {
    let mut read = program_units(message);
    let mut units = Vec::new();
    for text in split(message, b';') {
        let text = text.trim_ascii();
        if text.is_empty() {
            continue;
        }
        units.push(match read.next() {
            Some(Ok(unit)) => {
                let header = unit.path.join(":");
                let common = header.starts_with('*');
                let name = text.iter().position(|b| *b <= b' ' || *b == b'?').unwrap_or(text.len());
                let root: &[u8] = if common { b"" } else { b":" };
                Unit {
                    text: [root, header.as_bytes(), &text[name..]].concat(),
                    header: header.to_uppercase(),
                    query: unit.query,
                    has_parameters: !unit.parameters.is_empty(),
                }
            }
            Some(Err(_)) | None => Unit {
                text: text.to_vec(),
                header: String::new(),
                query: text.contains(&b'?'),
                has_parameters: false,
            },
        });
    }
    units
}

/// The message that these units make.
pub(super) fn joined<'a>(units: impl IntoIterator<Item = &'a Unit>) -> Vec<u8> {
    let texts: Vec<&[u8]> = units.into_iter().map(|unit| unit.text.as_slice()).collect();
    texts.join(&b';')
}

/// The pieces of a message between separators that stand outside strings and blocks.
fn split(message: &[u8], separator: u8) -> Vec<&[u8]> {
    let mut pieces = Vec::new();
    let (mut start, mut at) = (0, 0);
    let mut quote = None;
    while let Some(&byte) = message.get(at) {
        match (quote, byte) {
            (Some(open), _) if byte == open => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(byte),
            (None, b'#') => at += block_length(&message[at..]),
            (None, _) if byte == separator => {
                pieces.push(&message[start..at]);
                start = at + 1;
            }
            (None, _) => {}
        }
        at += 1;
    }
    pieces.push(&message[start.min(message.len())..]);
    pieces
}

/// How many bytes behind a `#` belong to its block: its header and its data.
fn block_length(bytes: &[u8]) -> usize {
    let digits = match bytes.get(1) {
        Some(digit @ b'1'..=b'9') => usize::from(digit - b'0'),
        _ => return 0,
    };
    let length = bytes.get(2..2 + digits).and_then(|digits| std::str::from_utf8(digits).ok());
    let length = length.and_then(|length| length.parse::<usize>().ok()).unwrap_or(0);
    (1 + digits).saturating_add(length).min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(message: &[u8]) -> Vec<String> {
        units(message).into_iter().map(|unit| String::from_utf8_lossy(&unit.text).into_owned()).collect()
    }

    /// IEEE 488.2 annex A.1.1: a header goes on from the last but one's path unless it begins with a colon.
    #[test]
    fn headers_are_written_out_from_the_root() {
        let message = b"FREQ:CENT 1E6;SPAN 2E6;*WAI;SPAN?;:BAND 10";
        let expected = [":FREQ:CENT 1E6", ":FREQ:SPAN 2E6", "*WAI", ":FREQ:SPAN?", ":BAND 10"];
        assert_eq!(texts(message), expected);
        let kinds: Vec<_> = units(message).iter().map(|unit| (unit.is_setting(), unit.query)).collect();
        assert_eq!(kinds, [(true, false), (true, false), (false, false), (false, true), (true, false)]);
        assert_eq!(joined(&units(message)[..2]), b":FREQ:CENT 1E6;:FREQ:SPAN 2E6");
    }

    #[test]
    fn separators_in_strings_and_blocks_separate_nothing() {
        assert_eq!(texts(b"TEXT \"a;b\";*CLS"), [":TEXT \"a;b\"", "*CLS"]);
        assert_eq!(texts(b"DATA #13a;b;*CLS"), [":DATA #13a;b", "*CLS"]);
        assert_eq!(texts(b"DATA #3999a;b"), ["DATA #3999a;b"]);
        assert_eq!(texts(b"!!;*CLS"), ["!!", "*CLS"]);
        assert!(texts(b" ; ").is_empty());
    }
}
