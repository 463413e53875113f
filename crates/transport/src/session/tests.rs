//! A session against an instrument played by the test, byte by byte, in virtual time.

use spurline_clock::{Pace, run};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader, DuplexStream};

use super::*;
use crate::{Direction, StreamLink};

const MANNERS: Manners =
    Manners { longest: 200, compound: true, power_on_bit: true, answer_within: Duration::from_secs(2) };

/// What the played instrument does with one line: text to send, after a pause.
type Reply = (u64, &'static [u8]);

fn session(clock: Clock, manners: Manners) -> (Session, BufReader<DuplexStream>, Tap) {
    let (near, far) = tokio::io::duplex(1 << 16);
    let tap = Tap::default();
    let address = Address::Socket { host: "played".to_owned(), port: 1 };
    let link = Box::new(StreamLink::new(near));
    (Session::over(link, "analyser", address, manners, clock, tap.clone()), BufReader::new(far), tap)
}

/// Plays the given replies in order, then answers tokens for ever; returns the lines it got.
async fn play(mut far: BufReader<DuplexStream>, clock: Clock, replies: Vec<Reply>) -> Vec<String> {
    let mut lines = Vec::new();
    let mut replies = replies.into_iter();
    let mut line = String::new();
    let mut mask = "0".to_owned();
    while far.read_line(&mut line).await.unwrap_or(0) > 0 {
        let asked = std::mem::take(&mut line).trim_end().to_owned();
        if let Some(token) = asked.strip_prefix("*ESE ").and_then(|rest| rest.strip_suffix(";*ESE?")) {
            far.write_all(format!("{token}\n").as_bytes()).await.unwrap();
        } else if let Some(token) = asked.strip_prefix("*ESE ") {
            token.clone_into(&mut mask);
        } else if asked == "*ESE?" {
            far.write_all(format!("{mask}\n").as_bytes()).await.unwrap();
        } else if asked.contains('?') {
            let (pause, bytes) = replies.next().expect("a reply for every question");
            clock.sleep(Duration::from_millis(pause)).await;
            far.write_all(bytes).await.unwrap();
        }
        lines.push(asked);
    }
    lines
}

fn message(text: &str) -> Message {
    Message::new().compound(text).unwrap()
}

#[test]
fn answers_come_without_the_sentinel() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, tap) = session(clock, MANNERS);
        let played = tokio::spawn(play(far, clock, vec![(10, b"1.0E3;#14abcd;0;0,\"No error\"\n")]));
        let units = session.ask(&message("BAND?;:TRAC? TRACE1"), Duration::ZERO).await.unwrap();
        assert_eq!(units.len(), 2);
        assert_eq!(units[0].number().unwrap().finite(), Some(1000.0));
        assert_eq!(session.round_trips(), 1);
        drop(session);
        assert_eq!(played.await.unwrap(), ["BAND?;:TRAC? TRACE1;*ESR?;:SYST:ERR?"]);
        let tapped = tap.take();
        assert_eq!(tapped.len(), 2);
        assert_eq!(tapped[1].direction, Direction::Received);
    })
    .unwrap();
}

#[test]
fn an_error_is_blamed_on_its_message_and_the_queue_is_emptied() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        let replies: Vec<Reply> = vec![
            (1, b"0;-222,\"Data out of range\"\n"),
            (1, b"-113,\"Undefined header\"\n"),
            (1, b"0,\"No error\"\n"),
        ];
        tokio::spawn(play(far, clock, replies));
        let error = session.ask(&message("BAND 5"), Duration::ZERO).await.unwrap_err();
        let SessionError::Refused { errors, asked, .. } = error else { panic!("refused") };
        assert_eq!((errors.len(), asked.as_str()), (2, "BAND 5"));
    })
    .unwrap();
}

#[test]
fn a_late_answer_is_never_taken_for_the_next_one() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        let replies: Vec<Reply> = vec![(5_000, b"1;0;0,\"No error\"\n"), (1, b"2;0;0,\"No error\"\n")];
        tokio::spawn(play(far, clock, replies));
        let late = session.ask(&message("A?"), Duration::ZERO).await;
        assert!(matches!(late, Err(SessionError::Silent { .. })), "{late:?}");
        let units = session.ask(&message("B?"), Duration::from_secs(5)).await.unwrap();
        assert_eq!(units[0].integer().unwrap(), 2);
    })
    .unwrap();
}

#[test]
fn a_missing_field_taints_the_link() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        let replies: Vec<Reply> = vec![(1, b"1;0;0,\"No error\"\n"), (1, b"7;0;0,\"No error\"\n")];
        let played = tokio::spawn(play(far, clock, replies));
        let short = session.ask(&message("A?;:B?"), Duration::ZERO).await;
        assert!(matches!(short, Err(SessionError::Answer { .. })), "{short:?}");
        assert_eq!(session.ask(&message("C?"), Duration::ZERO).await.unwrap()[0].integer().unwrap(), 7);
        drop(session);
        let lines = played.await.unwrap();
        assert_eq!(lines.iter().filter(|line| line.ends_with("*ESE?")).count(), 2, "{lines:?}");
    })
    .unwrap();
}

#[test]
fn a_closed_link_says_so_and_stays_closed() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        drop(far);
        let first = session.ask(&message("A?"), Duration::ZERO).await;
        assert!(matches!(first, Err(SessionError::Link { .. })), "{first:?}");
        let second = session.ask(&message("A?"), Duration::ZERO).await;
        assert!(matches!(second, Err(SessionError::OutOfStep { .. })), "{second:?}");
    })
    .unwrap();
}

#[test]
fn an_instrument_without_compound_messages_is_asked_one_by_one() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, Manners { compound: false, ..MANNERS });
        let ok: Reply = (1, b"0\n");
        let none: Reply = (1, b"0,\"No error\"\n");
        let played = tokio::spawn(play(far, clock, vec![ok, none, (1, b"3\n"), ok, none]));
        let units = session.ask(&message("A 1;:B?"), Duration::ZERO).await.unwrap();
        assert_eq!(units[0].integer().unwrap(), 3);
        drop(session);
        assert_eq!(played.await.unwrap(), ["A 1", "*ESR?", "SYST:ERR?", "B?", "*ESR?", "SYST:ERR?"]);
    })
    .unwrap();
}

#[test]
fn an_instrument_that_was_switched_off_and_on_says_so_once() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        let replies: Vec<Reply> = vec![(1, b"5;128;0,\"No error\"\n"), (1, b"5;0;0,\"No error\"\n")];
        tokio::spawn(play(far, clock, replies));
        let first = session.ask(&message("A?"), Duration::ZERO).await;
        assert!(matches!(first, Err(SessionError::PowerCycled { .. })), "{first:?}");
        assert_eq!(session.ask(&message("A?"), Duration::ZERO).await.unwrap()[0].integer().unwrap(), 5);
    })
    .unwrap();
}

/// Asks `first`, which must fail, recovers, asks it again and gives back what the instrument was sent after the
/// failure.
async fn after_failure(clock: Clock, first: &str, replies: Vec<Reply>) -> (SessionError, Vec<String>) {
    let (mut session, far, _) = session(clock, MANNERS);
    let played = tokio::spawn(play(far, clock, replies));
    let asked = message(first);
    let failure = session.ask(&asked, Duration::ZERO).await.unwrap_err();
    let lines = if let Err(error) = session.recover(&failure, &asked, Duration::ZERO).await {
        return (error, Vec::new());
    } else {
        session.ask(&asked, Duration::ZERO).await.unwrap();
        drop(session);
        played.await.unwrap()
    };
    (failure, lines)
}

#[test]
fn missing_fields_are_looked_for_unit_by_unit() {
    run(Pace::Fast, |clock| async move {
        let replies: Vec<Reply> = vec![
            (1, b"1;0;0,\"No error\"\n"),
            (1, b"0,\"No error\"\n"),
            (1, b"1\n"),
            (1, b"0\n"),
            (1, b"0,\"No error\"\n"),
            (1, b"2\n"),
            (1, b"0\n"),
            (1, b"0,\"No error\"\n"),
        ];
        let (failure, lines) = after_failure(clock, "A?;:B?", replies).await;
        assert!(matches!(failure, SessionError::Answer { .. }), "{failure:?}");
        assert_eq!(lines[lines.len() - 6..], ["A?", "*ESR?", "SYST:ERR?", "B?", "*ESR?", "SYST:ERR?"]);
    })
    .unwrap();
}

#[test]
fn an_overrun_makes_messages_shorter() {
    run(Pace::Fast, |clock| async move {
        let long = "FREQ:CENT 1;:FREQ:SPAN 2;:BAND 3;:BAND:VID 4;:SWE:POIN 5;:SWE:TIME 6;:FREQ:CENT?";
        let none: Reply = (1, b"0,\"No error\"\n");
        let part: Reply = (1, b"0;0,\"No error\"\n");
        let last: Reply = (1, b"1;0;0,\"No error\"\n");
        let overrun: Reply = (1, b"7;0;-363,\"Input buffer overrun\"\n");
        let replies = vec![overrun, none, none, part, part, part, last];
        let (failure, lines) = after_failure(clock, long, replies).await;
        assert!(matches!(failure, SessionError::Refused { .. }), "{failure:?}");
        let parts: Vec<&String> = lines.iter().filter(|line| line.ends_with("*ESR?;:SYST:ERR?")).collect();
        assert!(parts.len() > 2 && parts[1..].iter().all(|part| part.len() <= 44), "{parts:?}");
    })
    .unwrap();
}

/// IEEE 488.2 owes no answer to a question that is not known; only the error queue tells. Once more, unit by unit, it
/// is asked all the same: a character may have been lost.
#[test]
fn a_question_that_is_not_known_is_told_by_the_error_queue() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        let (unknown, none): (Reply, Reply) = ((1, b"-113,\"Undefined header\"\n"), (1, b"0,\"No error\"\n"));
        tokio::spawn(play(far, clock, vec![(0, b""), unknown, none, (0, b""), unknown, none]));
        let asked = message("A?");
        let silent = session.ask(&asked, Duration::ZERO).await.unwrap_err();
        session.recover(&silent, &asked, Duration::ZERO).await.unwrap();
        let silent = session.ask(&asked, Duration::ZERO).await.unwrap_err();
        let refused = session.recover(&silent, &asked, Duration::ZERO).await.unwrap_err();
        assert!(matches!(refused, SessionError::Refused { .. }), "{refused:?}");
        assert!(!refused.is_of_the_link());
    })
    .unwrap();
}

#[test]
fn an_entry_of_the_queue_tells_of_a_power_cycle_as_well() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, Manners { power_on_bit: false, ..MANNERS });
        let replies: Vec<Reply> = vec![(1, b"5;-500,\"Power on\"\n"), (1, b"0,\"No error\"\n")];
        tokio::spawn(play(far, clock, replies));
        let first = session.ask(&message("A?"), Duration::ZERO).await.unwrap_err();
        assert!(matches!(first, SessionError::PowerCycled { .. }));
    })
    .unwrap();
}

#[test]
fn a_power_cycle_is_told_by_an_answer_that_lacks_a_field() {
    run(Pace::Fast, |clock| async move {
        let (mut session, far, _) = session(clock, MANNERS);
        // The instrument was switched off and on; a field of its first answer is lost (or garbled) on the way.
        let replies: Vec<Reply> = vec![(1, b"128;0,\"No error\"\n")];
        tokio::spawn(play(far, clock, replies));
        let first = session.ask(&message("A?"), Duration::ZERO).await;
        assert!(matches!(first, Err(SessionError::PowerCycled { .. })), "{first:?}");
    })
    .unwrap();
}
