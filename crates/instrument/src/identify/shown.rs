//! What an instrument said, made fit for a terminal.

use spurline_scpi::harmless;

/// The most characters that are shown of one answer.
const LONGEST: usize = 100;

/// The text on one line, with everything escaped that would act on a terminal, and of bounded length.
pub(super) fn shown(text: &str) -> String {
    harmless(text, LONGEST)
}

/// The same for bytes as they came.
pub(super) fn shown_bytes(bytes: &[u8]) -> String {
    let some = bytes.get(..LONGEST * 4).unwrap_or(bytes);
    shown(&String::from_utf8_lossy(some))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_harmless_and_short() {
        assert_eq!(shown("a \"b\"\u{1b}[2J\u{202e}\n"), "a \"b\"\\u{1b}[2J\\u{202e}");
        assert_eq!(shown_bytes(&[b'7'; 10_000]).chars().count(), LONGEST + 1);
    }
}
