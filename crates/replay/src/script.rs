//! A transcript sorted by link: each request with what came of it, and when.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use spurline_store::{Direction, TranscriptEntry};

/// What an instrument did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sent {
    /// It sent a message; the bytes are without terminator.
    Message(Bytes),
    /// It sent bytes that are no message.
    Raw(Bytes),
    /// The link ended.
    End,
}

/// What an instrument did, and how long after the request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// How long after the request.
    pub after: Duration,
    /// What.
    pub sent: Sent,
}

/// One request and what came of it before the next one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exchange {
    /// The step of the run that it belongs to.
    pub step: Arc<str>,
    /// The message to the instrument, without terminator.
    pub request: Bytes,
    /// What the instrument did; nothing if it kept silent.
    pub replies: Vec<Reply>,
}

/// Everything that passed on one link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Script {
    /// The link's name.
    pub link: Arc<str>,
    /// The exchanges, in order.
    pub exchanges: Vec<Exchange>,
}

/// Sorts a transcript by link, in the order in which the links were first used.
///
/// What came before anything was asked is left out: nobody waited for it.
///
/// A transcript that tells of no loss may still end with one: the question that was asked last of all those that have
/// no answer and nothing behind them on their link. Whoever waited for it gave up or lost the link, which is the same
/// in the end; the others were left waiting for that reason.
#[must_use]
pub fn scripts(entries: Vec<TranscriptEntry>) -> Vec<Script> {
    let mut scripts: Vec<Script> = Vec::new();
    let mut places = BTreeMap::new();
    // When each link was asked last, and the place of that in the transcript.
    let mut asked = Vec::new();
    let told = entries.iter().any(|entry| entry.direction == Direction::Lost);
    for (order, entry) in entries.into_iter().enumerate() {
        if entry.direction == Direction::Resumed {
            continue;
        }
        let place = *places.entry(entry.link.clone()).or_insert_with(|| {
            scripts.push(Script { link: entry.link.clone(), exchanges: Vec::new() });
            asked.push((entry.at, order));
            scripts.len() - 1
        });
        let exchanges = &mut scripts[place].exchanges;
        let bytes = Bytes::from(entry.bytes);
        let sent = match entry.direction {
            Direction::To => {
                asked[place] = (entry.at, order);
                exchanges.push(Exchange { step: entry.step, request: bytes, replies: Vec::new() });
                continue;
            }
            Direction::From => Sent::Message(bytes),
            Direction::Unreadable => Sent::Raw(bytes),
            Direction::Lost | Direction::Resumed => Sent::End,
        };
        if let Some(last) = exchanges.last_mut() {
            // A clock that was set back meanwhile has no answer come before its question.
            let after = entry.at.duration_since(asked[place].0).try_into().unwrap_or(Duration::ZERO);
            last.replies.push(Reply { after, sent });
        }
    }
    let waiting = scripts.iter_mut().zip(asked).filter_map(|(script, (_, order))| {
        let last = script.exchanges.last_mut().filter(|last| last.unanswered())?;
        Some((order, last))
    });
    if let Some((_, last)) = waiting.filter(|_| !told).max_by_key(|(order, _)| *order) {
        last.replies.push(Reply { after: Duration::ZERO, sent: Sent::End });
    }
    scripts
}

impl Exchange {
    fn unanswered(&self) -> bool {
        self.replies.is_empty() && self.request.contains(&b'?')
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;

    use super::*;

    fn entry(link: &str, millisecond: i64, direction: Direction, text: &str) -> TranscriptEntry {
        TranscriptEntry {
            at: Timestamp::from_millisecond(millisecond).unwrap(),
            link: link.into(),
            direction,
            step: "line".into(),
            bytes: text.into(),
        }
    }

    fn reply(after: u64, sent: Sent) -> Reply {
        Reply { after: Duration::from_millis(after), sent }
    }

    #[test]
    fn answers_follow_their_request_by_link() {
        use Direction::{From, Lost, To, Unreadable};
        let found = scripts(vec![
            entry("b", 1, From, "nobody asked"),
            entry("a", 2, To, "X?"),
            entry("b", 3, To, "*CLS"),
            entry("a", 7, From, "1"),
            entry("b", 8, To, "Y?"),
            entry("a", 9, Unreadable, "#x"),
            entry("b", 4, From, "set back"),
            entry("b", 20, Lost, "gone"),
        ]);
        assert_eq!(found.iter().map(|script| &*script.link).collect::<Vec<_>>(), ["b", "a"]);
        let [first, second] = found[0].exchanges.as_slice() else { panic!("{found:?}") };
        assert_eq!((&first.request[..], first.replies.len()), (&b"*CLS"[..], 0));
        let expected = [reply(0, Sent::Message("set back".into())), reply(12, Sent::End)];
        assert_eq!(second.replies, expected);
        let expected = [reply(5, Sent::Message("1".into())), reply(7, Sent::Raw("#x".into()))];
        assert_eq!(found[1].exchanges[0].replies, expected);
    }

    #[test]
    fn the_last_question_of_all_without_answer_is_a_lost_link() {
        use Direction::{From, Lost, To};
        let lost = |entries: &[TranscriptEntry]| -> Vec<String> {
            let ended = |script: &Script| script.exchanges.last()?.replies.last().cloned();
            let ends = scripts(entries.to_vec());
            let ends = ends.iter().filter(|script| ended(script) == Some(reply(0, Sent::End)));
            ends.map(|script| script.link.to_string()).collect()
        };
        let asked = entry("a", 0, To, "X?");
        assert_eq!(lost(std::slice::from_ref(&asked)), ["a"]);
        assert_eq!(lost(&[entry("a", 0, To, "*CLS")]), [""; 0], "nothing was asked");
        assert_eq!(lost(&[asked.clone(), entry("a", 9, To, "Y")]), [""; 0], "silence, and then it went on");
        let left_waiting =
            [asked.clone(), entry("b", 1, To, "Y?"), entry("c", 2, To, "Z"), entry("c", 2, From, "z")];
        assert_eq!(lost(&left_waiting), ["b"]);
        assert_eq!(lost(&[asked, entry("b", 1, To, "Y?"), entry("b", 1, Lost, "gone")]), ["b"], "it is told");
    }
}
