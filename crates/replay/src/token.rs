//! Tokens: what a program asks only to find out whether question and answer are in step.
//!
//! On a link that does not tell where an answer ends, the program writes a number into the event status enable
//! register (`*ESE`, IEEE 488.2, 10.10) and reads it back; the number is another one each time. A link that can be
//! cleared needs none. So the number does not count, and what is not in the script is answered as by any instrument.

use bytes::Bytes;

/// A message that tells or asks a token, or both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Token<'a> {
    /// The number that is told.
    pub(crate) told: Option<&'a [u8]>,
    /// Whether it is asked for.
    pub(crate) asks: bool,
}

impl<'a> Token<'a> {
    /// The token of a message that holds nothing else.
    pub(crate) fn of(message: &'a [u8]) -> Option<Self> {
        if message == b"*ESE?" {
            return Some(Self { told: None, asks: true });
        }
        let rest = message.strip_prefix(b"*ESE ")?;
        let (told, asks) = match rest.strip_suffix(b";*ESE?") {
            Some(told) => (told, true),
            None => (rest, false),
        };
        let is_number = (1..=3).contains(&told.len()) && told.iter().all(u8::is_ascii_digit);
        is_number.then_some(Self { told: Some(told), asks })
    }

    /// Whether two messages do the same with tokens. To take the token back, which is to tell 0, is another thing.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        let form = |token: &Self| (token.told.is_some(), token.told == Some(b"0"), token.asks);
        form(self) == form(other)
    }
}

/// The tokens of a link: the recorded ones, and those that are told in their place.
#[derive(Debug, Default)]
pub(crate) struct Tokens {
    /// The recorded number and the one that was told in its place, the newest last.
    told: Vec<(Vec<u8>, Bytes)>,
    /// What stands in the register.
    register: Bytes,
}

/// So many tokens are remembered: more stale answers are never waited for.
const REMEMBERED: usize = 64;

impl Tokens {
    /// Takes note of a token that is told in place of a recorded one.
    pub(crate) fn tell(&mut self, recorded: Option<&[u8]>, told: &[u8]) {
        self.register = Bytes::copy_from_slice(told);
        if let Some(recorded) = recorded {
            if self.told.len() == REMEMBERED {
                self.told.remove(0);
            }
            self.told.push((recorded.to_owned(), self.register.clone()));
        }
    }

    /// What stands in the register.
    pub(crate) fn register(&self) -> Bytes {
        if self.register.is_empty() { Bytes::from_static(b"0") } else { self.register.clone() }
    }

    /// A recorded answer to a token, as it must be now.
    pub(crate) fn in_place_of(&self, answer: &Bytes) -> Bytes {
        let number = |bytes: &[u8]| std::str::from_utf8(bytes).ok()?.trim().parse::<f64>().ok();
        let recorded = number(answer);
        let found = self.told.iter().rev().find(|(token, _)| recorded.is_some() && number(token) == recorded);
        found.map_or_else(|| answer.clone(), |(_, told)| told.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_are_told_from_everything_else() {
        let of = |text: &'static str| Token::of(text.as_bytes()).map(|token| (token.told, token.asks));
        assert_eq!(of("*ESE 21;*ESE?"), Some((Some(&b"21"[..]), true)));
        assert_eq!(of("*ESE 21"), Some((Some(&b"21"[..]), false)));
        assert_eq!(of("*ESE?"), Some((None, true)));
        for other in ["", "*ESE", "*ESE ", "*ESE x;*ESE?", "*ESE 1234", "*ESE 1;*IDN?", "*ESR?"] {
            assert_eq!(of(other), None, "{other}");
        }
        let like = |one: &str, other: &str| {
            Token::of(one.as_bytes()).unwrap().is_like(&Token::of(other.as_bytes()).unwrap())
        };
        assert!(like("*ESE 21;*ESE?", "*ESE 7;*ESE?") && like("*ESE 21", "*ESE 7"));
        assert!(!like("*ESE 21", "*ESE 0") && !like("*ESE 21", "*ESE 21;*ESE?") && !like("*ESE?", "*ESE 1"));
    }

    #[test]
    fn an_answer_to_an_earlier_token_is_the_one_to_that_token() {
        let mut tokens = Tokens::default();
        assert_eq!(tokens.register(), "0");
        tokens.tell(Some(b"21"), b"7");
        tokens.tell(Some(b"22"), b"8");
        assert_eq!(tokens.register(), "8");
        for (recorded, expected) in
            [("22", "8"), ("21", "7"), ("+2.2E1", "8"), ("1.5", "1.5"), ("x", "x"), ("", "")]
        {
            assert_eq!(tokens.in_place_of(&Bytes::from(recorded)), expected, "{recorded}");
        }
    }
}
