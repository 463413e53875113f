//! Texts in lines that fit.

use super::font::{Face, Fonts, of_code};

/// The text in lines no wider than `room`: broken at blanks, behind signs that divide names, and where there are
/// neither anywhere.
pub(crate) fn lines(fonts: &Fonts, text: &str, face: Face, size: f32, room: f32) -> Vec<String> {
    let text = fonts.typeset(text, face);
    let mut out = Vec::new();
    let mut line = String::new();
    let mut taken = 0.0;
    // Where the line may end, in bytes of it.
    let mut good_end = None;
    for c in text.trim().chars() {
        let wide = fonts.em(c, face) * size;
        if taken + wide > room && !line.is_empty() {
            if c == ' ' {
                good_end = Some(line.len());
            }
            let rest = line.split_off(good_end.take().unwrap_or(line.len()));
            out.push(line.trim_end().to_owned());
            line = rest.trim_start().to_owned();
            taken = fonts.width(&line, face, size);
        }
        if line.is_empty() && c == ' ' {
            continue;
        }
        if c == ' ' {
            good_end = Some(line.len());
        }
        line.push(c);
        taken += wide;
        if divides(c) {
            good_end = Some(line.len());
        }
    }
    if !line.trim().is_empty() {
        out.push(line.trim_end().to_owned());
    }
    out
}

fn divides(c: char) -> bool {
    matches!(of_code(c).unwrap_or(c), '/' | '_' | ',' | ';' | '&' | '|' | '\\')
}

/// The width of the widest word: what cannot be broken without tearing something apart.
pub(crate) fn widest_word(fonts: &Fonts, text: &str, face: Face, size: f32) -> f32 {
    let shown = fonts.typeset(text, face);
    let words = shown.split(' ').flat_map(|word| word.split_inclusive(divides));
    words.map(|word| fonts.width(word, face, size)).fold(0.0, f32::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_too_wide_and_nothing_is_lost() {
        let fonts = Fonts::read();
        let long = "x".repeat(300);
        for text in [
            "The quick brown fox jumps over the lazy dog, again and again",
            long.as_str(),
            "TCPIP::192.0.2.20::5025::SOCKET with/many/names/in/it",
            "say `--reconnect-sd` and `spurline show RUN --transcript`, or ` alone",
            "日本語 and \u{202e}turned\u{1b}[2J",
            "a",
        ] {
            for face in [Face::Plain, Face::Bold, Face::Mono] {
                let lines = lines(&fonts, text, face, 8.0, 60.0);
                for line in &lines {
                    assert!(fonts.width(line, face, 8.0) <= 60.0, "{line}");
                }
                let kept = |text: &str| text.chars().filter(|c| *c != ' ').collect::<String>();
                assert_eq!(kept(&lines.concat()), kept(&fonts.typeset(text, face)));
            }
        }
        assert_eq!(super::lines(&fonts, " two words ", Face::Plain, 8.0, 35.0), ["two", "words"]);
        assert!(super::lines(&fonts, "", Face::Plain, 8.0, 35.0).is_empty());
    }

    #[test]
    fn what_stands_between_backticks_is_set_as_code() {
        let fonts = Fonts::read();
        let set = |text: &str| {
            let line = lines(&fonts, text, Face::Plain, 8.0, 500.0).concat();
            let runs = fonts.set(&line, Face::Plain);
            let wide: f32 = runs.iter().map(|run| run.width * 8.0).sum();
            assert!((wide - fonts.width(&line, Face::Plain, 8.0)).abs() < 1e-3);
            runs.into_iter().map(|run| run.text).collect::<Vec<_>>()
        };
        assert_eq!(set("state it by `--day-sd` or `n`."), ["state it by ", "--day-sd", " or ", "n", "."]);
        assert_eq!(set("one ` alone"), ["one ` alone"]);
        assert_eq!(fonts.spoken("power of `low`", Face::Plain), "power of low");
    }

    #[test]
    fn room_for_less_than_a_letter_does_not_hang() {
        assert_eq!(lines(&Fonts::read(), "ab", Face::Plain, 8.0, 0.0), ["a", "b"]);
    }
}
