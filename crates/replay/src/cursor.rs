//! How far a link's script has been played, and what may be asked next.
//!
//! A key is kept down by telling its relay so again and again; how often depends on how long other things take.
//! So what was asked last may be asked once more and is answered as before, and repeats in the script may be left
//! out. A repeat may be several messages, as when the contact is asked for before it is told again, or when an
//! instrument takes one command a message. Such a repeat is one only if the script itself shows it, and if one message
//! alone in it tells anything. Tokens are another matter ([`Token`]). Nothing else may differ.

use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;

use crate::difference::Difference;
use crate::script::{Exchange, Reply, Script, Sent};
use crate::token::{Token, Tokens};

/// The most messages that one repeat takes: state, power-on bit, errors, then command, state, and both again for each.
const LONGEST_REPEAT: usize = 9;

/// A script and how far it has been played.
#[derive(Debug)]
pub(crate) struct Cursor {
    script: Arc<Script>,
    next: usize,
    tokens: Tokens,
}

impl Cursor {
    pub(crate) fn new(script: Arc<Script>) -> Self {
        Self { script, next: 0, tokens: Tokens::default() }
    }

    /// What comes of a request.
    pub(crate) fn ask(&mut self, asked: &[u8]) -> Result<Vec<Reply>, Difference> {
        let place = self.recorded(asked).or_else(|| self.once_more(asked));
        match (place, Token::of(asked)) {
            (Some(place), token) => {
                self.next = place + 1;
                Ok(self.replies(place, token))
            }
            // The recorded link needed no token here, or another one than this.
            (None, Some(token)) => Ok(self.own_reply(token)),
            (None, None) => Err(self.difference(self.next, Some(asked))),
        }
    }

    /// The replies of an exchange, with the present tokens in place of the recorded ones.
    fn replies(&mut self, place: usize, token: Option<Token<'_>>) -> Vec<Reply> {
        let exchange = &self.script.exchanges[place];
        let mut replies = exchange.replies.clone();
        let Some(token) = token else { return replies };
        if let Some(told) = token.told {
            self.tokens.tell(Token::of(&exchange.request).and_then(|recorded| recorded.told), told);
        }
        for reply in &mut replies {
            if let Sent::Message(bytes) = &mut reply.sent {
                *bytes = self.tokens.in_place_of(bytes);
            }
        }
        replies
    }

    /// What any instrument does with a token.
    fn own_reply(&mut self, token: Token<'_>) -> Vec<Reply> {
        if let Some(told) = token.told {
            self.tokens.tell(None, told);
        }
        let reply = |bytes: Bytes| Reply { after: Duration::ZERO, sent: Sent::Message(bytes) };
        token.asks.then(|| reply(self.tokens.register())).into_iter().collect()
    }

    /// What was recorded and has not been asked, repeats aside.
    pub(crate) fn left(&self) -> Option<Difference> {
        let mut place = self.next;
        while let Some(length) = self.repeat_at(place) {
            place += length;
        }
        (place < self.script.exchanges.len()).then(|| self.difference(place, None))
    }

    /// Whether the link was lost for good: nothing was recorded behind its end.
    pub(crate) fn is_over(&self) -> bool {
        let last = self.script.exchanges.last().and_then(|last| last.replies.last());
        self.next >= self.script.exchanges.len() && last.is_some_and(|last| last.sent == Sent::End)
    }

    /// The next exchange of the script, or the one behind repeats, if the request is its.
    fn recorded(&self, asked: &[u8]) -> Option<usize> {
        let mut place = self.next;
        loop {
            if alike(&self.at(place)?.request, asked) {
                return Some(place);
            }
            place += self.repeat_at(place)?;
        }
    }

    /// The exchange, just played, that a repeat would begin with.
    fn once_more(&self, asked: &[u8]) -> Option<usize> {
        let begins = |length: &usize| {
            let place = self.next.checked_sub(*length)?;
            let shown = *length == 1
                || self.same(place, self.next, *length)
                || self.continues(place, *length)
                || place.checked_sub(*length).is_some_and(|before| self.same(before, place, *length));
            (self.at(place)?.request == asked && shown && self.may_repeat(place, *length)).then_some(place)
        };
        (1..=LONGEST_REPEAT).find_map(|length| begins(&length))
    }

    /// How many messages from a place on say again what the ones right before it said.
    fn repeat_at(&self, place: usize) -> Option<usize> {
        (1..=LONGEST_REPEAT).find(|length| {
            let before = place.checked_sub(*length);
            let same = before.is_some_and(|before| self.same(before, place, *length));
            (same || self.continues(place, *length)) && self.may_repeat(place, *length)
        })
    }

    /// Whether so many messages from a place on can be one repeat: one message, or several of which one alone tells
    /// anything, however often. A key that goes down and up again is none.
    fn may_repeat(&self, place: usize, length: usize) -> bool {
        let Some(exchanges) = self.script.exchanges.get(place..place + length) else { return false };
        let mut telling = exchanges.iter().map(|exchange| &exchange.request).filter(|request| tells(request));
        let first = telling.next();
        length == 1 || (first.is_some() && telling.all(|request| Some(request) == first))
    }

    /// Whether so many messages end with the one that they follow: asked for between, it is told again.
    fn continues(&self, place: usize, length: usize) -> bool {
        let before = place.checked_sub(1).and_then(|before| self.at(before));
        let last = self.at(place + length - 1);
        length > 1
            && before
                .zip(last)
                .is_some_and(|(before, last)| before.request == last.request && tells(&before.request))
    }

    /// Whether the requests from two places on are the same.
    fn same(&self, one: usize, other: usize, length: usize) -> bool {
        let requests = |from: usize| {
            let exchanges = self.script.exchanges.get(from..from + length)?;
            Some(exchanges.iter().map(|exchange| &exchange.request))
        };
        requests(one).zip(requests(other)).is_some_and(|(one, other)| one.eq(other))
    }

    fn at(&self, place: usize) -> Option<&Exchange> {
        self.script.exchanges.get(place)
    }

    fn difference(&self, place: usize, asked: Option<&[u8]>) -> Difference {
        let exchange = self.at(place);
        let step = exchange.or(self.script.exchanges.last()).map(|exchange| exchange.step.clone());
        Difference {
            link: self.script.link.clone(),
            step: step.unwrap_or_default(),
            number: place + 1,
            recorded: exchange.map(|exchange| exchange.request.to_vec()),
            asked: asked.map(<[u8]>::to_vec),
        }
    }
}

/// Whether a request does anything but ask.
fn tells(request: &[u8]) -> bool {
    let header = |unit: &[u8]| unit.split(|byte| byte.is_ascii_whitespace()).next().map(<[u8]>::to_vec);
    let units = request.split(|byte| *byte == b';').map(<[u8]>::trim_ascii).filter_map(header);
    units.into_iter().any(|header| !header.ends_with(b"?"))
}

/// Whether two requests are the same, or differ in a token only.
fn alike(recorded: &[u8], asked: &[u8]) -> bool {
    let tokens = || Token::of(recorded).zip(Token::of(asked));
    recorded == asked || tokens().is_some_and(|(one, other)| one.is_like(&other))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cursor(requests: &str) -> Cursor {
        // The answer is the place, so that it tells which exchange is played.
        let exchange = |(place, request): (usize, &str)| Exchange {
            step: "line".into(),
            request: request.to_owned().into(),
            replies: vec![Reply {
                after: Duration::ZERO,
                sent: Sent::Message(format!("place {place}").into()),
            }],
        };
        let exchanges = requests.split(' ').enumerate().map(exchange).collect();
        Cursor::new(Arc::new(Script { link: "relay".into(), exchanges }))
    }

    /// The places that are played, or the difference.
    fn play(recorded: &str, asked: &str) -> Result<Vec<usize>, Difference> {
        let mut cursor = cursor(recorded);
        let mut place = |request: &str| {
            let replies = cursor.ask(request.as_bytes())?;
            let Sent::Message(answer) = &replies[0].sent else { panic!("{replies:?}") };
            let place = std::str::from_utf8(answer).unwrap().strip_prefix("place ").unwrap();
            Ok(place.parse().unwrap())
        };
        let places = asked.split(' ').map(&mut place).collect::<Result<_, _>>()?;
        cursor.left().map_or(Ok(places), Err)
    }

    #[test]
    fn the_same_in_the_same_order() {
        assert_eq!(play("a b c", "a b c"), Ok(vec![0, 1, 2]));
        let error = play("a b c", "a c").unwrap_err();
        assert_eq!((error.recorded, error.asked, error.number), (Some(b"b".into()), Some(b"c".into()), 2));
        let error = play("a b", "a b c").unwrap_err();
        assert_eq!((error.recorded, error.asked, error.number), (None, Some(b"c".into()), 3));
        let error = play("a b c", "a").unwrap_err();
        assert_eq!((error.recorded, error.asked, error.number), (Some(b"b".into()), None, 2));
    }

    #[test]
    fn what_keeps_the_key_down_may_be_said_more_or_less_often() {
        assert_eq!(play("down up", "down down down up"), Ok(vec![0, 0, 0, 1]));
        assert_eq!(play("down down down up", "down up"), Ok(vec![0, 3]));
        assert_eq!(play("down down down", "down"), Ok(vec![0]));
        assert!(play("down up", "down up down").is_err(), "only what was said last");
        for key in ["down;s? up;s?", "c e? q? e? o e? q? e?"] {
            assert!(play(&format!("{key} {key}"), key).is_err(), "down and up is no repeat: {key}");
        }
    }

    /// The contact is asked for before it is told again.
    #[test]
    fn what_is_asked_before_it_is_told_again_repeats_with_it() {
        let (once, twice, thrice) = ("d;s? up", "d;s? s? d;s? up", "d;s? s? d;s? s? d;s? up");
        assert_eq!(play(thrice, twice), Ok(vec![0, 1, 2, 5]));
        assert_eq!(play(twice, thrice), Ok(vec![0, 1, 2, 1, 2, 3]));
        assert_eq!(play(twice, once), Ok(vec![0, 3]));
        assert!(play(once, twice).is_err(), "nothing shows that it may be asked");
        assert!(play("d;s? s? up", "d;s? s? d;s? up").is_err(), "what was told once is not told again");
    }

    #[test]
    fn a_repeat_of_several_messages_must_be_shown_by_the_script() {
        let (down, up) = ("c e? q? e?", "o e? q? e?");
        let twice = format!("{down} {down} {up}");
        assert_eq!(play(&twice, &format!("{down} {up}")), Ok(vec![0, 1, 2, 3, 8, 9, 10, 11]));
        assert_eq!(
            play(&twice, &format!("{down} {down} {down} {up}")),
            Ok(vec![0, 1, 2, 3, 4, 5, 6, 7, 4, 5, 6, 7, 8, 9, 10, 11])
        );
        let once = format!("{down} {up}");
        assert!(play(&once, &format!("{down} {once}")).is_err(), "nothing shows that it is a repeat");
        assert!(play(&twice, &format!("{down} c {up}")).is_err(), "a part of a repeat");
    }

    fn answers(cursor: &mut Cursor, asked: &str) -> Vec<String> {
        let text = |reply: &Reply| match &reply.sent {
            Sent::Message(bytes) => String::from_utf8(bytes.to_vec()).unwrap(),
            other => panic!("{other:?}"),
        };
        cursor.ask(asked.as_bytes()).unwrap().iter().map(text).collect()
    }

    /// The number of a token is another one each time, also that of an answer which comes late.
    #[test]
    fn a_token_is_answered_with_its_own_number() {
        let exchange = |request: &'static str, answers: &[&'static str]| Exchange {
            step: "line".into(),
            request: request.into(),
            replies: answers
                .iter()
                .map(|answer| Reply { after: Duration::ZERO, sent: Sent::Message((*answer).into()) })
                .collect(),
        };
        let exchanges = vec![
            exchange("*ESE 21;*ESE?", &[]),
            exchange("*ESE 22;*ESE?", &["late", "21", "22"]),
            exchange("*ESE 0", &[]),
            exchange("X?", &["21"]),
        ];
        let mut cursor = Cursor::new(Arc::new(Script { link: "a".into(), exchanges }));
        assert_eq!(answers(&mut cursor, "*ESE 101;*ESE?"), [""; 0]);
        assert_eq!(answers(&mut cursor, "*ESE 102;*ESE?"), ["late", "101", "102"]);
        assert_eq!(answers(&mut cursor, "*ESE 0"), [""; 0]);
        assert_eq!(answers(&mut cursor, "X?"), ["21"], "only a token's answer is a token");
        assert_eq!(cursor.left(), None);
    }

    #[test]
    fn a_token_that_the_recorded_link_did_not_need_is_answered_as_by_any_instrument() {
        let mut cursor = cursor("a");
        assert_eq!(answers(&mut cursor, "*ESE 7;*ESE?"), ["7"]);
        assert_eq!(answers(&mut cursor, "*ESE 0"), [""; 0]);
        assert_eq!(answers(&mut cursor, "*ESE?"), ["0"]);
        assert_eq!(answers(&mut cursor, "a"), ["place 0"]);
        assert_eq!(cursor.left(), None);
    }

    proptest! {
        /// Whatever was recorded can be played as it was, and ends.
        #[test]
        fn every_script_plays_itself(recorded in prop::collection::vec("[a-c]", 1..40)) {
            let all = recorded.join(" ");
            let places = play(&all, &all).unwrap();
            prop_assert_eq!(places, (0..recorded.len()).collect::<Vec<_>>());
        }

        /// A request that stands nowhere in the script is never answered.
        #[test]
        fn no_unknown_request_is_answered(recorded in prop::collection::vec("[a-c]", 1..20), at: prop::sample::Index) {
            let mut asked = recorded.clone();
            asked[at.index(recorded.len())] = "other".to_owned();
            prop_assert!(play(&recorded.join(" "), &asked.join(" ")).is_err());
        }
    }
}
