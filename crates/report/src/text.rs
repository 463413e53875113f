//! What files and instruments say, made fit for the place where it is shown.

/// Stands for a character that was taken out.
const UNFIT: char = '\u{fffd}';

/// The text without characters that a page or a document has no place for: control characters other than a line
/// break, and those that turn the direction of the text around them.
pub(crate) fn plain(text: &str) -> String {
    text.replace(unfit, &UNFIT.to_string())
}

/// Adds the same to a text.
pub(crate) fn push_plain(to: &mut String, text: &str) {
    match text.contains(unfit) {
        true => to.push_str(&plain(text)),
        false => to.push_str(text),
    }
}

fn unfit(c: char) -> bool {
    let turns_text = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let not_in_xml = matches!(c, '\u{fffe}' | '\u{ffff}');
    turns_text || not_in_xml || (c.is_control() && c != '\n')
}

/// The text as a cell that no spreadsheet takes for a formula: one that begins like a formula gets an apostrophe.
#[must_use]
pub fn inert(text: &str) -> String {
    // Some spreadsheets take blanks off first, and some read the wide forms too.
    let first = text.trim_start().chars().next();
    let text = plain(text);
    if matches!(first, Some('=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠')) {
        format!("'{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_left_that_acts() {
        assert_eq!(plain("a\u{1b}]0;x\u{0}\u{9b}b\nc"), "a\u{fffd}]0;x\u{fffd}\u{fffd}b\nc");
        assert_eq!(plain("\u{202e}sdeecxe\u{ffff}"), "\u{fffd}sdeecxe\u{fffd}");
        assert_eq!(plain("Größe 5 µW, 日本"), "Größe 5 µW, 日本");
    }

    #[test]
    fn a_formula_becomes_text() {
        for formula in ["=1+1", "+1", "-16 dBm or less", "@a", " =1", "\t=1", "＝1"] {
            assert!(inert(formula).starts_with('\''), "{formula:?}");
        }
        for text in ["", "high", "a=b", "5 W", "'x"] {
            assert_eq!(inert(text), text);
        }
    }
}
