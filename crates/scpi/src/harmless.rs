//! Texts of instruments, made fit for a terminal.

/// The text on one line, with everything escaped that would act on a terminal or turn other text round, and with an
/// ellipsis behind its first `longest` characters if it has more.
#[must_use]
pub fn harmless(text: &str, longest: usize) -> String {
    let mut kept = String::new();
    for (at, c) in text.trim().chars().enumerate() {
        if at == longest {
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
        assert_eq!(harmless("Example\x1b[2J\r\n", 63), r"Example\u{1b}[2J");
        assert_eq!(harmless("a\u{202e}b\u{200b}", 63), r"a\u{202e}b\u{200b}");
        assert_eq!(harmless("  A-0001 \u{fffd}", 63), "A-0001 \u{fffd}");
        assert_eq!(harmless("Müller & Co", 63), "Müller & Co");
    }

    #[test]
    fn no_text_is_longer_than_asked_for() {
        assert_eq!(harmless(&"x".repeat(5000), 63).chars().count(), 64);
        // The worst is an escape of ten characters for each one.
        assert!(harmless(&"\u{e0041}".repeat(5000), 63).len() < 63 * 12);
    }
}
