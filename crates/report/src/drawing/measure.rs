//! How much room a text takes, by an estimate that is on the safe side for the usual sans-serif fonts.

/// Ends a text that was cut.
const CUT: char = '…';
/// A blank at which no line is broken.
pub(crate) const NO_BREAK: char = '\u{a0}';

/// The width of a text, in the unit of its size.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(em).sum::<f64>() * size
}

/// The width of a character as a part of the size of the font: that of the widest of the usual fonts, roughly.
const fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ' ' | NO_BREAK => 0.32,
        ':' | ';' | '\'' | '|' => 0.35,
        '!' | 'f' | 'r' | 't' | '*' | '(' | ')' | '[' | ']' | '/' | '\\' | '-' | '"' => 0.5,
        'm' | 'M' | 'W' | '%' | '…' | '—' => 1.0,
        '@' => 1.05,
        'w' | '&' | '#' | '^' | '+' | '<' | '>' | '=' | '~' | '±' | '≤' | '≥' | '✓' | '✗' => 0.85,
        'A'..='Z' => 0.8,
        '\0'..='~' => 0.65,
        '\u{a0}'..='\u{2000}' => 0.78,
        '–' => 0.65,
        _ => 1.05,
    }
}

/// The text if it fits, else its beginning and a sign that it was cut.
pub(crate) fn fitted(text: &str, room: f64, size: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let (kept, _) = split(text, room - width(&CUT.to_string(), size), size);
    format!("{}{CUT}", kept.trim_end())
}

/// The text in at most `lines` lines, broken at blanks where there are any; what does not fit is cut.
pub(crate) fn wrapped(text: &str, room: f64, size: f64, lines: usize) -> Vec<String> {
    let mut rest = text.trim();
    let mut out = Vec::new();
    while !rest.is_empty() {
        if out.len() + 1 == lines {
            out.push(fitted(rest, room, size));
            break;
        }
        let (line, more) = split(rest, room, size);
        let whole_words = line.rfind(breaks).filter(|_| !more.is_empty() && !more.starts_with(breaks));
        let cut = whole_words.unwrap_or(line.len());
        out.push(rest[..cut].trim_end().to_owned());
        rest = rest[cut..].trim_start();
    }
    out
}

fn breaks(c: char) -> bool {
    c.is_whitespace() && c != NO_BREAK
}

/// As many characters as fit, at least one, and the rest.
fn split(text: &str, room: f64, size: f64) -> (&str, &str) {
    let mut taken = 0.0;
    let end = text.char_indices().skip_while(|(_, c)| {
        taken += em(*c) * size;
        taken <= room
    });
    let first = text.chars().next().map_or(0, char::len_utf8);
    let cut = end.map(|(at, _)| at).next().unwrap_or(text.len()).max(first);
    text.split_at(cut)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_at_blanks_and_never_overflow() {
        assert_eq!(wrapped("adapter SMA to N", 80.0, 12.0, 3), ["adapter", "SMA to N"]);
        assert_eq!(wrapped("pad-30", 80.0, 12.0, 3), ["pad-30"]);
        assert_eq!(wrapped("", 80.0, 12.0, 3), [""; 0]);
        let long = "x".repeat(300);
        for text in [
            &long,
            "a b c d e f g h i j k l m n o p q r s t u v w x y z",
            "WWWWWWWWWWWWWWWW",
            "日本語日本語日本語",
        ] {
            let lines = wrapped(text, 60.0, 12.0, 3);
            assert!(lines.len() <= 3 && !lines.is_empty(), "{lines:?}");
            for line in lines {
                assert!(width(&line, 12.0) <= 60.0, "{line}");
            }
        }
        assert!(wrapped(&long, 60.0, 12.0, 3)[2].ends_with('…'));
    }

    #[test]
    fn room_for_less_than_a_character_does_not_hang() {
        assert_eq!(wrapped("ab", 0.0, 12.0, 5), ["a", "b"]);
        assert_eq!(fitted("ab", 0.0, 12.0), "a…");
    }

    /// Advance widths of Liberation Sans 1.07.4, its bold face, and DejaVu Sans 2.37 as fontTools 4.68.0 reads them
    /// from `hmtx`, in em.
    #[test]
    fn the_estimate_is_not_below_real_fonts() {
        for (text, liberation, bold, dejavu) in WIDTHS {
            let ours = width(text, 1.0);
            let widest = f64::max(liberation, bold).max(dejavu);
            assert!(ours >= widest, "{text}: {ours} is below {widest}");
            assert!(ours < 1.25 * widest, "{text}: {ours} is far above {widest}");
        }
    }

    const WIDTHS: [(&str, f64, f64, f64); 14] = [
        ("adapter SMA to N", 7.948, 8.334, 8.801),
        ("pad-30", 3.114, 3.223, 3.516),
        ("0123456789", 5.562, 5.562, 6.362),
        ("30.00 to 30.10 dB", 7.896, 8.115, 9.004),
        ("Spectrum analyser", 8.337, 8.949, 9.440),
        ("Swept Analyser 3000, serial A-0001", 15.898, 16.676, 17.882),
        ("-36.02 dBm", 5.169, 5.335, 5.836),
        ("WMW@%", 4.625, 4.585, 4.791),
        ("illicit (text)/fjord", 6.667, 7.500, 8.045),
        ("harmonic 12, 1478.0 MHz", 11.450, 11.838, 12.888),
        ("µΩ±", 1.873, 1.927, 2.238),
        ("ÄÖÜäöü", 3.835, 4.000, 4.062),
        ("Unit under test", 6.503, 7.056, 7.521),
        ("opens by itself after 1 s", 10.283, 11.115, 11.809),
    ];
}
