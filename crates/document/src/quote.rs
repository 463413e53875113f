//! A text as it is written into a file, so that whoever reads the file reads the same text: the one place that knows what
//! YAML would take for something else.

/// A text as YAML in one line: bare where that can mean nothing else, in double quotes otherwise.
///
/// Of a file it can be a value or a key, also within braces and brackets.
#[must_use]
pub fn quoted(text: &str) -> String {
    if is_plain(text) { text.to_owned() } else { in_quotes(text) }
}

/// Words that readers of one edition of YAML or another take for something else than text.
const WORDS: [&str; 13] =
    ["true", "false", "yes", "no", "on", "off", "null", "y", "n", "nan", "inf", "infinity", "none"];

fn is_plain(text: &str) -> bool {
    let all = |more: &str| text.chars().all(|c| c.is_ascii_alphanumeric() || more.contains(c));
    let words = text.starts_with(|c: char| c.is_ascii_alphabetic())
        && all("-_./ ")
        && !WORDS.contains(&text.to_ascii_lowercase().as_str());
    // A figure with its unit behind a space is no number to YAML.
    let figure = text.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit())
        && !text.starts_with("--")
        && text.contains(' ')
        && all(".+-/^ ");
    (words || figure) && !text.ends_with(' ')
}

fn in_quotes(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len() + 2);
    quoted.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            '\r' => quoted.push_str("\\r"),
            letter if is_shown(letter) => quoted.push(letter),
            letter if letter <= '\u{ffff}' => quoted.push_str(&format!("\\u{:04X}", u32::from(letter))),
            letter => quoted.push_str(&format!("\\U{:08X}", u32::from(letter))),
        }
    }
    quoted.push('"');
    quoted
}

/// Whether a letter may stand in a file as it is: what YAML calls printable, without what breaks a line or marks the order
/// of bytes.
fn is_shown(letter: char) -> bool {
    let breaks = matches!(letter, '\u{2028}' | '\u{2029}' | '\u{feff}');
    let printable = matches!(letter, ' '..='~' | '\u{a0}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..='\u{10ffff}');
    let is_none = u32::from(letter) & 0xfffe == 0xfffe;
    printable && !breaks && !is_none
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{Document, Node, Value};

    /// What is read of a text as a value, as a key, in braces and in brackets.
    fn read_back(text: &str) -> Vec<String> {
        let written = quoted(text);
        assert!(!written.contains('\n'), "{written}");
        let file = format!(
            "value: {written} # remark\n{written}: 1\nlist: [ {written}, {{ key: {written} }} ]\nlines:\n  - {written}\n"
        );
        let document = Document::parse("f.yaml", &file).unwrap_or_else(|mistakes| panic!("{mistakes}"));
        let Value::Map(entries) = &document.root.value else { panic!("{file}") };
        let scalar = |node: &Node| node.scalar().map(str::to_owned).unwrap_or_else(|| panic!("{file}"));
        let list = entries[2].node.items();
        vec![
            scalar(&entries[0].node),
            entries[1].key.clone(),
            scalar(&list[0]),
            scalar(list[1].get("key").unwrap_or_else(|| panic!("{file}"))),
            scalar(&entries[3].node.items()[0]),
        ]
    }

    #[track_caller]
    fn comes_back(text: &str) {
        for read in read_back(text) {
            assert_eq!(read, text, "{}", quoted(text));
        }
    }

    #[test]
    fn what_yaml_would_take_for_something_else_comes_back_as_text() {
        for text in [
            "",
            " ",
            " a",
            "a ",
            "yes",
            "No",
            "TRUE",
            "null",
            "~",
            "none",
            "1",
            "-1",
            "1e3",
            "0x1f",
            "1_000",
            ".5",
            ".inf",
            ".NaN",
            "1:30",
            "2024-01-01",
            "2024-01-01 10:00",
            "a: b",
            "a:",
            ": a",
            "a #b",
            "#a",
            "- a",
            "-",
            "--- a",
            "...",
            "? a",
            "! a",
            "!tag",
            "& a",
            "&a",
            "*a",
            "| a",
            "> a",
            "%a",
            "@a",
            "`a`",
            "'a'",
            "\"a\"",
            "a\"b",
            "\\",
            "\\n",
            "[a]",
            "{a}",
            "a, b",
            "a]",
            "<<",
            "=",
            "\t",
            "a\tb",
            "a\nb",
            "\r\n",
            "\0",
            "\u{7}",
            "\u{1b}[31m",
            "\u{7f}",
            "\u{85}",
            "\u{a0}",
            "\u{2028}",
            "\u{2029}",
            "\u{feff}",
            "\u{fffe}",
            "\u{ffff}",
            "\u{1fffe}",
            "\u{10ffff}",
            "Größe 5 µ",
            "日本",
            "🙂",
            "5 W",
            "9 kHz..1 GHz",
            "-36 dBm",
            "43 dB + 10 log power",
            "--5 x",
            "C:\\pad.s2p",
            "a/b c.s2p",
        ] {
            comes_back(text);
        }
    }

    #[test]
    fn what_people_write_stays_as_they_wrote_it() {
        for text in ["us-part-97", "North bench", "5 W", "9 kHz..1 GHz", "-36 dBm", "../paths/pad-30.s2p"] {
            let plain = !text.starts_with('.');
            assert_eq!(quoted(text) == text, plain, "{text}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2000) })]
        #[test]
        fn every_text_comes_back(text in any::<String>()) {
            comes_back(&text);
        }

        #[test]
        fn every_text_of_the_letters_that_mean_something_comes_back(text in "[ \\t\\n#:,\\-?!&*|>%@`'\"\\\\\\[\\]{}~.0-9eEyYnN_<=+a]{0,8}") {
            comes_back(&text);
        }
    }
}
