//! Texts from the network, made fit for a terminal.

/// The most characters that are kept of one text: a label of DNS has at most 63 bytes.
const LONGEST: usize = 63;

/// The text with everything escaped that would act on a terminal or turn other text round, and no longer than one line
/// bears.
pub(crate) fn harmless(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let mut kept = String::new();
    for (at, c) in text.trim().chars().enumerate() {
        if at == LONGEST {
            kept.push('…');
            break;
        }
        if acts(c) {
            kept.extend(c.escape_unicode());
        } else {
            kept.push(c);
        }
    }
    kept
}

/// Control characters, separators of lines, and what is invisible or changes the direction of writing.
fn acts(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{feff}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
        || matches!(c, '\u{2060}'..='\u{206f}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_on_a_terminal_is_shown() {
        assert_eq!(harmless(b"Example\x1b[2J\r\n"), r"Example\u{1b}[2J");
        assert_eq!(harmless("a\u{202e}b\u{200b}".as_bytes()), r"a\u{202e}b\u{200b}");
        assert_eq!(harmless(b"  A-0001 \xff"), "A-0001 \u{fffd}");
        assert_eq!(harmless(b"M\xc3\xbcller & Co"), "Müller & Co");
    }

    #[test]
    fn no_text_is_longer_than_a_line() {
        let long = harmless(&[b'x'; 5000]);
        assert_eq!(long.chars().count(), LONGEST + 1);
        // The worst is an escape of ten characters for each one.
        assert!(harmless("\u{e0041}".repeat(5000).as_bytes()).len() < LONGEST * 12);
    }
}
