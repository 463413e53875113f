//! Whether the longest message of the profile arrives whole, and if it does not, which length does.

use super::attempt::Trial;
use super::finding::Verdict;
use super::line::{Heard, Lost};

/// Questions that change nothing: the long form, and the short one for an instrument that does not know long forms.
const QUESTIONS: [&str; 2] = ["SYSTEM:ERROR?", "SYST:ERR?"];
/// What a profile may say at least.
const SHORTEST: usize = 40;
/// How long each question of a message may take.
const EACH: std::time::Duration = std::time::Duration::from_millis(20);

/// A message of exactly `length` bytes, and how many answers it is owed.
fn message(question: &str, length: usize) -> (String, usize) {
    let count = ((length + 2) / (question.len() + 2)).max(1);
    let mut text = vec![question; count].join(";:");
    // Blanks behind the last question fill up what is left.
    text.extend(std::iter::repeat_n(' ', length.saturating_sub(text.len())));
    (text, count)
}

/// Tries the profile's longest message, and shorter ones until one arrives whole.
pub(super) async fn try_it(trial: &mut Trial) -> Result<(), Lost> {
    let longest = trial.messages.longest;
    let [long, short] = QUESTIONS;
    let known = trial.line.has_queue()
        && trial.carry_out(long, std::time::Duration::ZERO).await?.verdict.is_good() == Some(true);
    let question = if known { long } else { short };
    let spelling = format!("{longest} bytes of {question}");
    if !trial.messages.compound || !trial.line.has_queue() {
        let why = if trial.messages.compound {
            "there is no question to try it with"
        } else {
            "messages of single commands are short"
        };
        trial.leave("longest", &spelling, why);
        return Ok(());
    }
    let (mut works, mut fails) = (0, longest);
    if let Some(how) = whole(trial, question, longest).await? {
        while fails > SHORTEST && works == 0 {
            let shorter = (fails / 2).max(SHORTEST);
            match whole(trial, question, shorter).await? {
                None => works = shorter,
                Some(_) => fails = shorter,
            }
        }
        let advice = if works == 0 {
            "not even short messages of several commands arrive: write `compound: false` under `messages`"
                .to_owned()
        } else {
            format!("write `longest: {works}` under `messages`: that length arrives whole")
        };
        trial.keep_advised("longest", &spelling, Verdict::Wrong(how), Some(advice));
        return Ok(());
    }
    trial.keep("longest", &spelling, Verdict::Understood(None));
    Ok(())
}

/// `None` if a message of this length is answered whole; otherwise what came of it.
async fn whole(trial: &mut Trial, question: &str, length: usize) -> Result<Option<String>, Lost> {
    let (text, expected) = message(question, length);
    let heard = trial.line.ask(&text, EACH * expected as u32).await?;
    let errors = trial.line.errors().await?;
    // An error shows in the message's own answers as well, and would be gone from the queue by then.
    let refused = |found: &spurline_scpi::Response| {
        let entries = found.units.iter().filter_map(|unit| unit.error_entry().ok());
        entries.filter(|entry| !entry.is_no_error()).map(|entry| entry.to_string()).next()
    };
    Ok(match heard {
        _ if !errors.is_empty() => Some(format!("raises {}", errors[0])),
        Heard::Silence(_) => Some("no answer at all".to_owned()),
        Heard::Unreadable(why) => Some(format!("answered unreadably: {why}")),
        Heard::Answer(response) => match refused(&response) {
            Some(error) => Some(format!("raises {error}")),
            None if response.units.len() == expected => None,
            None => Some(format!("expected {expected} answers, found {}", response.units.len())),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_have_the_length_that_was_asked_for() {
        for length in [40, 41, 200, 900, 60_000] {
            let (text, count) = message(QUESTIONS[0], length);
            assert_eq!(text.len(), length);
            assert_eq!(text.matches('?').count(), count);
        }
    }
}
