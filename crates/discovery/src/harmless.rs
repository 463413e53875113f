//! Texts from the network, made fit for a terminal.

/// The most characters that are kept of one text: a label of DNS has at most 63 bytes.
const LONGEST: usize = 63;

/// The bytes as a text that does nothing to a terminal, and no longer than one line bears.
pub(crate) fn harmless(bytes: &[u8]) -> String {
    spurline_scpi::harmless(&String::from_utf8_lossy(bytes), LONGEST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_text_is_shown_on_one_short_line() {
        assert_eq!(harmless(b"Example\x1b[2J \xff\r\n"), "Example\\u{1b}[2J \u{fffd}");
        assert_eq!(harmless(&[b'x'; 5000]).chars().count(), LONGEST + 1);
    }
}
