//! Recorded instruments on the wire, in virtual time.

use std::time::Duration;

use jiff::Timestamp;
use spurline_clock::{Pace, run};
use spurline_store::{Direction, TranscriptEntry};

use super::*;
use crate::script::scripts;

fn entry(link: &str, millisecond: i64, direction: Direction, bytes: &[u8]) -> TranscriptEntry {
    let at = Timestamp::from_millisecond(millisecond).unwrap();
    TranscriptEntry { at, link: link.into(), direction, step: "line".into(), bytes: bytes.to_owned() }
}

struct Client(TcpStream);

impl Client {
    async fn of(served: &Served, link: &str) -> Self {
        let (_, address) = served.addresses().iter().find(|(name, _)| **name == *link).unwrap();
        Self(TcpStream::connect(address).await.unwrap())
    }

    async fn send(&mut self, bytes: &[u8]) {
        self.0.write_all(bytes).await.unwrap();
    }

    /// The bytes up to a count; fewer if the link ends.
    async fn read(&mut self, count: usize) -> Vec<u8> {
        let mut bytes = vec![0; count];
        let mut filled = 0;
        while filled < count {
            match self.0.read(&mut bytes[filled..]).await {
                Ok(0) | Err(_) => break,
                Ok(more) => filled += more,
            }
        }
        bytes.truncate(filled);
        bytes
    }
}

#[test]
fn answers_come_after_the_time_that_the_instrument_took() {
    use Direction::{From, To};
    let recorded = vec![
        entry("a", 0, To, b"*CLS"),
        entry("b", 0, To, b"Y?"),
        entry("a", 5, To, b"X?"),
        entry("b", 90_000, From, b"#13\n\n\n"),
        entry("a", 300_005, From, b"1"),
        entry("a", 300_025, From, b"late"),
    ];
    run(Pace::Fast, |clock| async move {
        let served = serve(scripts(recorded), clock).await.unwrap();
        let (mut a, mut b) = (Client::of(&served, "a").await, Client::of(&served, "b").await);
        let start = clock.now();
        // A carriage return belongs to the end of the message, and two messages may come in one piece.
        a.send(b"*CLS\r\nX?\n").await;
        b.send(b"Y?\n").await;
        assert_eq!(b.read(7).await, b"#13\n\n\n\n");
        let passed = clock.now().since(start).as_millis();
        assert!((90_000..90_050).contains(&passed), "{passed} ms");
        assert_eq!(a.read(7).await, b"1\nlate\n");
        let passed = clock.now().since(start).as_millis();
        assert!((300_020..300_070).contains(&passed), "{passed} ms");
        assert_eq!(served.left(), None);
    })
    .unwrap();
}

/// What was lost is lost again, and a new connection goes on where the script stands.
#[test]
fn a_lost_link_ends_and_a_new_one_goes_on() {
    use Direction::{From, Lost, To, Unreadable};
    let recorded = vec![
        entry("a", 0, To, b"X?"),
        entry("a", 10, Unreadable, b"#x1"),
        entry("a", 20, Lost, b"the instrument closed the link"),
        entry("a", 30, To, b"*IDN?"),
        entry("a", 31, From, b"me"),
        entry("a", 32, Lost, b"the instrument closed the link"),
    ];
    run(Pace::Fast, |clock| async move {
        let served = serve(scripts(recorded), clock).await.unwrap();
        let mut first = Client::of(&served, "a").await;
        first.send(b"X?\n").await;
        assert_eq!(first.read(9).await, b"#x1", "as it came, and the end");
        let mut second = Client::of(&served, "a").await;
        second.send(b"*IDN?\n").await;
        assert_eq!(second.read(4).await, b"me\n", "the answer, and the end for good");
        clock.sleep(Duration::from_millis(1)).await;
        let (_, address) = served.addresses()[0];
        assert!(TcpStream::connect(address).await.is_err(), "nobody listens any more");
    })
    .unwrap();
}

#[test]
fn silence_is_kept_and_a_difference_is_told_once_and_ends_the_connection() {
    use Direction::To;
    let recorded = vec![entry("a", 0, To, b"X?"), entry("a", 0, To, b"FREQ 6"), entry("b", 0, To, b"Z")];
    run(Pace::Fast, |clock| async move {
        let served = serve(scripts(recorded), clock).await.unwrap();
        let mut client = Client::of(&served, "a").await;
        client.send(b"X?\n").await;
        assert!(clock.within(Duration::from_secs(3600), client.read(1)).await.is_err(), "silent");
        let left = served.left().unwrap();
        assert_eq!((left.number, left.asked), (2, None));
        client.send(b"FREQ 7\n").await;
        assert_eq!(client.read(1).await, b"", "the connection ends");
        let told = served.difference().await;
        assert_eq!(told.to_string(), "message 2 to the a, in step `line`: recorded `FREQ 6`, asked `FREQ 7`");
        let mut other = Client::of(&served, "b").await;
        other.send(b"W\n").await;
        assert_eq!(other.read(1).await, b"");
        assert_eq!(served.left(), Some(told), "the first one");
        served.stop().await;
    })
    .unwrap();
}

#[test]
fn a_request_without_end_is_a_difference_and_takes_no_memory() {
    let recorded = vec![entry("a", 0, Direction::To, b"X?")];
    run(Pace::Fast, |clock| async move {
        let served = serve(scripts(recorded), clock).await.unwrap();
        let mut client = Client::of(&served, "a").await;
        let piece = vec![b'x'; 1 << 16];
        for _ in 0..64 {
            if client.0.write_all(&piece).await.is_err() {
                break;
            }
        }
        assert_eq!(served.difference().await.number, 1);
    })
    .unwrap();
}
