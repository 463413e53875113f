//! Numbers as other countries and word processors write them, and the plain spelling that was probably meant.

use crate::notation::Notation;
use crate::number::MINUS;

/// A dash that word processors put in place of a minus; in print it means `to`, so it is not read as one.
const EN_DASH: char = '\u{2013}';
const QUOTES: [char; 2] = ['\'', '\u{2019}'];

/// Whether a number goes on with this sign, in whatever spelling.
pub(crate) fn is_part_of_number(c: char) -> bool {
    c.is_ascii_digit() || is_mark(c)
}

fn is_mark(c: char) -> bool {
    matches!(c, ',' | '.' | '_') || QUOTES.contains(&c)
}

/// What to do about a text that does not begin with a plain number.
pub(crate) fn advice(notation: &Notation, text: &str) -> String {
    let plain = respelled(text);
    if plain.is_empty() {
        return format!("write a number and a unit, for example `{}`", notation.example);
    }
    let rule = if text.starts_with(EN_DASH) {
        "write a hyphen for the minus"
    } else {
        "write a point before the decimals and nothing between the thousands"
    };
    let right: Vec<String> =
        plain.iter().filter(|text| notation.parse(text).is_ok()).map(|text| format!("`{text}`")).collect();
    match right.as_slice() {
        [] => format!("{rule}, for example `{}`", notation.example),
        _ => format!("{rule}: {}", right.join(" or ")),
    }
}

/// Plain spellings of the number at the start of `text`, with the rest of the text behind each.
///
/// Empty if it is plain already or if no spelling explains it; two where a comma may part decimals or thousands.
pub(crate) fn respelled(text: &str) -> Vec<String> {
    let unsigned = text.trim_start_matches(['+', '-', MINUS, EN_DASH]);
    let sign = text[..text.len() - unsigned.len()].replace(EN_DASH, "-");
    let end = unsigned
        .find(|c: char| !(is_part_of_number(c) || c.is_whitespace()))
        .map_or(unsigned.len(), |end| unsigned[..end].trim_end().len());
    let (number, rest) = unsigned.split_at(end);
    numbers(number)
        .into_iter()
        .map(|number| format!("{sign}{number}{rest}"))
        .filter(|plain| plain != text)
        .collect()
}

fn numbers(number: &str) -> Vec<String> {
    // A mark that stands only once may part the decimals; one that stands twice parts thousands.
    let mark = number.rfind([',', '.']).filter(|at| number.matches(&number[*at..=*at]).count() == 1);
    let (whole, decimals) = mark.map_or((number, ""), |at| (&number[..at], &number[at + 1..]));
    let groups: Vec<&str> = whole.split(|c: char| is_mark(c) || c.is_whitespace()).collect();
    let thousands = groups.len() > 1;
    let in_threes = groups[0].len() <= 3 && !groups[0].is_empty();
    if thousands && !(in_threes && groups[1..].iter().all(|group| group.len() == 3)) {
        return Vec::new();
    }
    if !decimals.bytes().all(|b| b.is_ascii_digit()) {
        return Vec::new();
    }
    let whole = groups.concat();
    let Some(mark) = mark.filter(|_| !decimals.is_empty()) else { return vec![whole] };
    let with_point = format!("{whole}.{decimals}");
    let either = number[mark..].starts_with(',') && !thousands && in_threes && decimals.len() == 3;
    if either && !whole.starts_with('0') {
        return vec![with_point, format!("{whole}{decimals}")];
    }
    vec![with_point]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_respelled_as_it_was_probably_meant() {
        for (text, plain) in [
            ("145,5 MHz", "145.5 MHz"),
            ("1'000 kHz", "1000 kHz"),
            ("1\u{2019}000kHz", "1000kHz"),
            ("1 000 kHz", "1000 kHz"),
            ("1\u{202f}000,5 kHz", "1000.5 kHz"),
            ("1_000_000 Hz", "1000000 Hz"),
            ("1,000,000 Hz", "1000000 Hz"),
            ("1.000.000 Hz", "1000000 Hz"),
            ("1.000,5 kHz", "1000.5 kHz"),
            ("1,000.5 kHz", "1000.5 kHz"),
            ("0,125 W", "0.125 W"),
            ("\u{2013}16,5 dBm", "-16.5 dBm"),
            ("5, W", "5 W"),
        ] {
            assert_eq!(respelled(text), [plain], "{text}");
        }
        assert_eq!(respelled("1,000 kHz"), ["1.000 kHz", "1000 kHz"]);
        for text in
            ["5 W", "-16.5 dBm", "1.000 kHz", "5 10 W", "1,00,0 W", "1.2.3 W", "3.141 592 V", "MHz", ""]
        {
            assert_eq!(respelled(text), [""; 0], "{text}");
        }
    }
}
