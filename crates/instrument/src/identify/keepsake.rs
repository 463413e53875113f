//! What an instrument had before it was told anything, asked for in the words in which it will be told.
//!
//! A profile has no question for a detector or a format. The header of a setting with a question mark is that
//! question wherever SCPI is kept to, so it is guessed; an instrument that does not know it loses nothing.

use std::time::Duration;

use spurline_scpi::{Element, Message, Unit};

use super::attempt::{Trial, as_text};
use super::line::{Heard, Lost};

/// Commands that bring back what was there, first remembered first.
#[derive(Debug, Default)]
pub(super) struct Keepsake(Vec<String>);

/// Longer than any value that is set with one word or number.
const LONGEST_VALUE: usize = 40;

/// Header and value of a command that sets something; `None` for one that acts, or asks.
fn setting(unit: &str) -> Option<(&str, &str)> {
    let (header, value) = unit.split_once([' ', '\t'])?;
    let sets = !header.ends_with('?') && !header.starts_with('*') && !value.trim().is_empty();
    sets.then(|| (header, value.trim()))
}

/// An answer as it may be told again; `None` if it is no plain value.
fn value(unit: &Unit) -> Option<String> {
    let plain = unit.elements.iter().all(|element| match element {
        Element::Text(text) => text.iter().all(u8::is_ascii_graphic),
        Element::String(text) => text.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'"'),
        Element::Block(_) => false,
    });
    let text = as_text(unit);
    (plain && !text.is_empty() && text.len() <= LONGEST_VALUE).then_some(text)
}

/// Whether an instrument that was told `told` may say so with `answer`: numbers and switches in any spelling, words in
/// short or long form, and as many of several values as it names.
fn says_the_same(told: &str, answer: &str) -> bool {
    let same = |told: &str, answer: &str| {
        let (told, answer) = (told.trim().trim_matches('"'), answer.trim().trim_matches('"'));
        let switch = |text: &str| match text.to_ascii_uppercase().as_str() {
            "ON" | "1" => Some(true),
            "OFF" | "0" => Some(false),
            _ => None,
        };
        if let (Some(one), Some(other)) = (switch(told), switch(answer)) {
            return one == other;
        }
        if let (Ok(one), Ok(other)) = (told.parse::<f64>(), answer.parse::<f64>()) {
            return (one - other).abs() <= 1e-9 * one.abs();
        }
        let (one, other) = (told.to_ascii_uppercase(), answer.to_ascii_uppercase());
        one.len() >= 2 && other.len() >= 2 && (one.starts_with(&other) || other.starts_with(&one))
    };
    !answer.is_empty() && told.split(',').zip(answer.split(',')).all(|(told, answer)| same(told, answer))
}

impl Trial {
    /// The answer to a question that may be unknown; errors that it raises are no one's business.
    async fn guessed(&mut self, question: &str) -> Result<Option<Unit>, Lost> {
        let heard = self.line.ask_for(question, self.guess).await?;
        let errors = self.line.errors().await?;
        Ok(match heard {
            Heard::Answer(mut response) if errors.is_empty() && response.units.len() == 1 => {
                response.units.pop()
            }
            Heard::Answer(_) | Heard::Silence(_) | Heard::Unreadable(_) => None,
        })
    }

    /// The value that a setting of this spelling has now, if the instrument can be asked for it.
    pub(super) async fn present(&mut self, spelling: &str) -> Result<Option<Unit>, Lost> {
        let message = Message::new().compound(spelling).unwrap_or_default();
        let last = message.units().filter_map(setting).last().map(|(header, _)| format!("{header}?"));
        match last {
            Some(question) => self.guessed(&question).await,
            None => Ok(None),
        }
    }

    /// Remembers what the settings of a spelling have now.
    pub(super) async fn remember(&mut self, keepsake: &mut Keepsake, spelling: &str) -> Result<(), Lost> {
        let message = Message::new().compound(spelling).unwrap_or_default();
        for (header, _) in message.units().filter_map(setting) {
            let answer = self.guessed(&format!("{header}?")).await?;
            keepsake.put(answer.as_ref().and_then(value).map(|value| format!("{header} {value}")));
        }
        Ok(())
    }

    /// How the settings of a spelling that has just been told read back: `None` if the instrument cannot be asked.
    pub(super) async fn reads_back(&mut self, spelling: &str) -> Result<Option<Result<(), String>>, Lost> {
        let message = Message::new().compound(spelling).unwrap_or_default();
        let mut asked = false;
        for (header, told) in message.units().filter_map(setting) {
            let question = format!("{header}?");
            let Some(answer) = self.guessed(&question).await? else { continue };
            asked = true;
            let answer = as_text(&answer);
            if !says_the_same(told, &answer) {
                return Ok(Some(Err(format!("`{question}` then answers `{answer}`"))));
            }
        }
        Ok(asked.then_some(Ok(())))
    }

    /// Tells the instrument again what was remembered, last first, and gives back what it refused.
    pub(super) async fn give_back(&mut self, keepsake: &Keepsake) -> Result<Vec<String>, Lost> {
        let mut refused = Vec::new();
        for told in keepsake.0.iter().rev() {
            if self.carry_out(told, Duration::ZERO).await?.verdict.is_good() == Some(false) {
                refused.push(told.clone());
            }
        }
        Ok(refused)
    }
}

impl Keepsake {
    /// Remembers a command that is known already.
    pub(super) fn put(&mut self, told: Option<String>) {
        self.0.extend(told);
    }

    /// Forgets what would switch on the thing that `spelling` switches off, and says whether there was any.
    pub(super) fn forget_switched_on(&mut self, spelling: &str) -> bool {
        let message = Message::new().compound(spelling).unwrap_or_default();
        let before = self.0.len();
        for (header, _) in message.units().filter_map(setting) {
            self.0.retain(|told| match setting(told) {
                Some((known, value)) => known != header || says_the_same("OFF", value),
                None => true,
            });
        }
        self.0.len() < before
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_settings_have_a_question() {
        assert_eq!(setting("DET POS"), Some(("DET", "POS")));
        assert_eq!(setting("FORM REAL,32"), Some(("FORM", "REAL,32")));
        for acting in ["INIT", "CAL", "*RST", "*ESE 1", "TRAC? TRACE1"] {
            assert_eq!(setting(acting), None, "{acting}");
        }
    }

    #[test]
    fn nothing_is_switched_on_again() {
        let mut keepsake = Keepsake::default();
        for told in ["INP:GAIN:STAT 1", "DET POS"] {
            keepsake.put(Some(told.to_owned()));
        }
        assert!(keepsake.forget_switched_on("INP:GAIN:STAT OFF"));
        assert_eq!(keepsake.0, ["DET POS"]);
        keepsake.put(Some("INP:GAIN:STAT 0".to_owned()));
        assert!(!keepsake.forget_switched_on("INP:GAIN:STAT OFF"));
    }

    #[test]
    fn the_same_in_other_words() {
        for (told, answer) in [
            ("OFF", "0"),
            ("POS", "POSITIVE"),
            ("POSitive", "POS"),
            ("REAL,32", "REAL,32"),
            ("REAL,32", "REAL"),
            ("145000000", "1.45E+08"),
            ("NORM", "\"NORMAL\""),
        ] {
            assert!(says_the_same(told, answer), "{told} {answer}");
        }
        for (told, answer) in [("OFF", "1"), ("POS", "SAMP"), ("REAL,32", "REAL,64"), ("RMS", ""), ("4", "8")]
        {
            assert!(!says_the_same(told, answer), "{told} {answer}");
        }
    }
}
