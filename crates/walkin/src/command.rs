//! What somebody typed or scanned: a label, or a short command.

use spurline_record::Label;
use thiserror::Error;

/// A line, understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// Nothing: the last prompt again.
    Nothing,
    /// A visitor's label.
    Label(Label),
    /// Measure again, the last one or the one of a number.
    Again(Option<u32>),
    /// A correction of the last one or of the one of a number.
    Correct(Option<u32>, Label),
    /// A correction that says nothing but a number: that of a visit, or a serial number of the last one.
    CorrectNumber(u32, Label),
    /// The slip again.
    Slip(Option<u32>),
    /// The summary of the day.
    Day,
    /// Help.
    Help,
    /// The one that waited does not come.
    NotThis,
    /// A carrier that stayed is gone: somebody has seen to it.
    Off,
    /// The end.
    Quit,
}

/// Why a line was not understood. A second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TypedError {
    /// Two of one kind.
    #[error(
        "expected one {kind}, found `{first}` and `{second}`\nsay which is what: `call:`, `serial:` or `tag:` before a word"
    )]
    Two {
        /// Which kind.
        kind: &'static str,
        /// The first.
        first: String,
        /// The second.
        second: String,
    },
    /// A command with too much behind it.
    #[error(
        "expected `{command}` with at most the number of a visit behind it, found `{found}`\nwrite for example `{command} 12`"
    )]
    Number {
        /// The command.
        command: char,
        /// What stood there.
        found: String,
    },
    /// A correction that says nothing.
    #[error(
        "expected what is right behind `c`\nwrite for example `c X1ABC` for the last visit, `c 12 serial:0815` for visit 12"
    )]
    NothingRight,
    /// Something that no label has.
    #[error(
        "expected a call sign, a serial number or a tag, found `{0}`\nletters, digits and `-./_#` make one"
    )]
    Strange(String),
}

/// Understands a line.
///
/// # Errors
///
/// [`TypedError`].
pub(crate) fn typed(line: &str, is_tag: impl Fn(&str) -> bool) -> Result<Typed, TypedError> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let Some((first, rest)) = words.split_first() else { return Ok(Typed::Nothing) };
    // What people type where they mean one of the commands; no label looks like it.
    match line.trim().to_ascii_lowercase().as_str() {
        "quit" | "exit" => return Ok(Typed::Quit),
        "help" => return Ok(Typed::Help),
        "off" => return Ok(Typed::Off),
        _ => {}
    }
    let mut letters = first.chars();
    let command = letters.next().filter(|_| letters.next().is_none()).map(|c| c.to_ascii_lowercase());
    let alone = |typed: Typed, command| match rest {
        [] => Ok(typed),
        rest => Err(TypedError::Number { command, found: rest.join(" ") }),
    };
    match command {
        Some('a') => Ok(Typed::Again(number('a', rest)?)),
        Some('r') => Ok(Typed::Slip(number('r', rest)?)),
        Some('c') => correction(rest, is_tag),
        Some('d') => alone(Typed::Day, 'd'),
        Some('?' | 'h') => alone(Typed::Help, '?'),
        Some('n') => alone(Typed::NotThis, 'n'),
        Some('q') => alone(Typed::Quit, 'q'),
        Some(_) | None => {
            let label = label(&words, is_tag)?;
            if label.is_empty() {
                return Err(TypedError::Strange(line.trim().to_owned()));
            }
            Ok(Typed::Label(label))
        }
    }
}

fn number(command: char, rest: &[&str]) -> Result<Option<u32>, TypedError> {
    match rest {
        [] => Ok(None),
        [one] if one.parse::<u32>().is_ok() => Ok(one.parse().ok()),
        rest => Err(TypedError::Number { command, found: rest.join(" ") }),
    }
}

fn correction(rest: &[&str], is_tag: impl Fn(&str) -> bool) -> Result<Typed, TypedError> {
    let (visit, words) = match rest.split_first() {
        Some((first, others)) if !others.is_empty() && first.parse::<u32>().is_ok() => {
            (first.parse().ok(), others)
        }
        _ => (None, rest),
    };
    let label = label(words, is_tag)?;
    if label == Label::default() {
        return Err(TypedError::NothingRight);
    }
    // The number of a visit has no zeros before it.
    let bare = match words {
        [word] if visit.is_none() && !word.starts_with('0') => word.parse().ok(),
        _ => None,
    };
    Ok(match bare {
        Some(number) => Typed::CorrectNumber(number, label),
        None => Typed::Correct(visit, label),
    })
}

/// The label that words make. What each is follows from its form, unless it says so itself.
///
/// # Errors
///
/// [`TypedError`].
pub fn label(words: &[&str], is_tag: impl Fn(&str) -> bool) -> Result<Label, TypedError> {
    let mut label = Label::default();
    for word in words {
        match *word {
            "+" => label.publish = Some(true),
            "-" => label.publish = Some(false),
            word => {
                let (kind, text) = kind_of(word, &is_tag)?;
                let (place, kind) = match kind {
                    Kind::Call => (&mut label.call, "call sign"),
                    Kind::Serial => (&mut label.serial, "serial number"),
                    Kind::Tag => (&mut label.tag, "tag"),
                    Kind::Other => (&mut label.other, "word that says nothing of itself"),
                };
                if let Some(first) = place.replace(text.clone()) {
                    return Err(TypedError::Two { kind, first, second: text });
                }
            }
        }
    }
    Ok(label)
}

#[derive(Clone, Copy)]
enum Kind {
    Call,
    Serial,
    Tag,
    /// What may be a serial number as well as a call sign of a form that is rarely seen.
    Other,
}

fn kind_of(word: &str, is_tag: &impl Fn(&str) -> bool) -> Result<(Kind, String), TypedError> {
    let said = word.split_once(':').and_then(|(kind, text)| {
        let kind = match kind.to_ascii_lowercase().as_str() {
            "call" => Kind::Call,
            "serial" | "sn" => Kind::Serial,
            "tag" => Kind::Tag,
            _ => return None,
        };
        Some((kind, text))
    });
    let (kind, text) = said.unwrap_or_else(|| {
        let kind = if is_tag(word) || has_form_of_tag(word) {
            Kind::Tag
        } else if has_form_of_call(word) {
            Kind::Call
        } else if word.bytes().all(|byte| byte.is_ascii_digit()) {
            Kind::Serial
        } else {
            Kind::Other
        };
        (kind, word)
    });
    let good = |c: char| c.is_ascii_alphanumeric() || "-./_#".contains(c);
    if text.is_empty() || text.len() > 40 || !text.chars().all(good) {
        return Err(TypedError::Strange(word.to_owned()));
    }
    Ok((kind, if matches!(kind, Kind::Call) { text.to_ascii_uppercase() } else { text.to_owned() }))
}

/// `#12`: what is put on radios at the door. Nothing else is a tag by its form: call signs of listeners and serial numbers have
/// letters, hyphens and digits too, and a tag is what everybody may read.
fn has_form_of_tag(word: &str) -> bool {
    word.len() > 1 && word.starts_with('#')
}

/// One or two characters of which one is a letter, then a digit, then one to four letters: the usual forms (ITU Radio
/// Regulations, Article 19, section III); `/P` and the like may follow. Call signs of other forms exist: a word that has none
/// of these need not be a serial number.
fn has_form_of_call(word: &str) -> bool {
    let base = word.split('/').next().unwrap_or(word).as_bytes();
    (1..=2).any(|prefix| {
        base.len() > prefix
            && base[..prefix].iter().all(u8::is_ascii_alphanumeric)
            && base[..prefix].iter().any(u8::is_ascii_alphabetic)
            && base[prefix].is_ascii_digit()
            && (1..=4).contains(&(base.len() - prefix - 1))
            && base[prefix + 1..].iter().all(u8::is_ascii_alphabetic)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(line: &str) -> Result<Typed, TypedError> {
        typed(line, |word| word == "REF")
    }

    fn of(line: &str) -> Label {
        let Ok(Typed::Label(label)) = read(line) else { panic!("{line}") };
        label
    }

    #[test]
    fn a_label_is_known_by_its_form() {
        for call in ["K1ABC", "dl9xyz", "2E0AB", "9A1A", "VK3ABCD", "G4XYZ/P"] {
            assert!(of(call).call.is_some(), "{call}");
        }
        for serial in ["0815", "12345678", "serial:W-0001", "sn:A1B2C3"] {
            assert!(of(serial).serial.is_some(), "{serial}");
        }
        // Some of these are call signs: none may be taken for a number of a radio.
        let others = [
            "FH2-0008", "W-0001", "1234ABC", "A1B2C3", "3DA0RU", "GB75RAF", "F/K1ABC", "SMITH", "T-12",
            "NL-123", "REF-1",
        ];
        for other in others {
            let label = of(other);
            assert!(label.other.is_some() && label.serial.is_none() && label.tag.is_none(), "{other}");
        }
        for tag in ["#7", "#A-7", "tag:T-12", "REF"] {
            assert!(of(tag).tag.is_some(), "{tag}");
        }
        assert_eq!(of("k1abc 0815 +").to_string(), "K1ABC, 0815");
        assert_eq!(of("k1abc +").publish, Some(true));
        assert_eq!(of("serial:K1ABC").serial.as_deref(), Some("K1ABC"));
    }

    #[test]
    fn commands_are_one_letter() {
        assert_eq!(read("  "), Ok(Typed::Nothing));
        assert_eq!(read("a"), Ok(Typed::Again(None)));
        assert_eq!(read("R 12"), Ok(Typed::Slip(Some(12))));
        for line in ["q", "quit", "Exit", " QUIT "] {
            assert_eq!(read(line), Ok(Typed::Quit), "{line}");
        }
        for line in ["?", "h", "help", "HELP"] {
            assert_eq!(read(line), Ok(Typed::Help), "{line}");
        }
        assert_eq!(read("OFF"), Ok(Typed::Off));
        // Behind a word that says what it is, all of these are labels.
        assert!(of("call:quit").call.is_some() && of("serial:help").serial.is_some());
        let Ok(Typed::Correct(Some(3), label)) = read("c 3 X1ABC") else { panic!() };
        assert_eq!(label.call.as_deref(), Some("X1ABC"));
        // Zeros before it: no number of a visit.
        let Ok(Typed::Correct(None, label)) = read("c 0815") else { panic!() };
        assert_eq!(label.serial.as_deref(), Some("0815"));
        let Ok(Typed::CorrectNumber(3, label)) = read("c 3") else { panic!() };
        assert_eq!(label.serial.as_deref(), Some("3"));
        assert!(matches!(read("c serial:3"), Ok(Typed::Correct(None, _))));
        assert!(matches!(read("c 3 +"), Ok(Typed::Correct(Some(3), _))));
    }

    #[test]
    fn what_is_not_understood_says_what_to_do() {
        for (line, part) in [
            ("X1ABC Y1ABC", "expected one call sign, found `X1ABC` and `Y1ABC`"),
            ("r twelve", "`r 12`"),
            ("c", "`c X1ABC`"),
            ("a\u{1b}[2J", "found"),
            ("+", "expected a call sign"),
            ("tag:", "expected a call sign"),
        ] {
            let told = read(line).unwrap_err().to_string();
            assert!(told.contains(part) && told.contains('\n'), "{line}: {told}");
        }
    }
}
