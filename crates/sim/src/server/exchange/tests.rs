//! The exchange by itself, with a port that the test plays.

use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use async_trait::async_trait;
use bytes::Bytes;
use spurline_clock::{Pace, run};
use spurline_scpi::{DecodeError, StatusByte};

use super::*;
use crate::server::delivery::{Delivery, Then};
use crate::server::port::{Admission, Cut};

/// Answers every message that ends with `?` with itself, after so many seconds as it begins with.
struct Echo {
    clock: Clock,
    interruptions: AtomicU32,
    unreadable: AtomicU32,
    triggers: AtomicU32,
}

#[async_trait]
impl Port for Echo {
    fn admit(&self) -> Admission {
        Admission::Serve(Connection(1))
    }

    fn left(&self, _: Connection) {}

    async fn take(&self, _: Connection, message: &[u8]) -> Vec<Delivery> {
        let text = String::from_utf8(message.to_vec()).unwrap();
        let seconds = text.split(' ').next().and_then(|word| word.parse().ok());
        if let Some(seconds) = seconds {
            self.clock.sleep(Duration::from_secs(seconds)).await;
        }
        if text.ends_with('?') { vec![Delivery::proper(message)] } else { Vec::new() }
    }

    fn unreadable(&self, _: DecodeError) {
        self.unreadable.fetch_add(1, Ordering::Relaxed);
    }

    fn interrupted(&self) {
        self.interruptions.fetch_add(1, Ordering::Relaxed);
    }

    fn trigger(&self) {
        self.triggers.fetch_add(1, Ordering::Relaxed);
    }

    fn clear(&self, _: Connection) {}

    fn status(&self, _: bool) -> StatusByte {
        StatusByte::NONE
    }

    async fn cut(&self) -> Cut {
        std::future::pending().await
    }

    async fn mended(&self) {
        std::future::pending().await
    }
}

/// Runs `script` with an exchange that is being worked at, in virtual time.
fn on<F: Future<Output = ()>>(script: impl FnOnce(Arc<Exchange<Echo>>, Arc<Echo>, Clock) -> F) {
    run(Pace::Fast, |clock| async move {
        let port = Arc::new(Echo {
            clock,
            interruptions: AtomicU32::new(0),
            unreadable: AtomicU32::new(0),
            triggers: AtomicU32::new(0),
        });
        let exchange = Arc::new(Exchange::new(port.clone(), Connection(1), Arc::default(), 1, clock));
        let works = exchange.clone();
        let working = tokio::spawn(async move { works.work().await });
        script(exchange, port, clock).await;
        working.abort();
    })
    .unwrap();
}

fn text(fetched: &Fetched) -> &str {
    std::str::from_utf8(&fetched.bytes).unwrap()
}

const ALL: usize = usize::MAX;

#[test]
fn a_message_in_pieces_is_one_message_and_its_answer_can_be_fetched_in_pieces() {
    on(|exchange, _, _| async move {
        exchange.put(1, b"A", false);
        exchange.put(3, b"B?\n", true);
        exchange.begun().await;
        assert!(exchange.is_answering());
        let part = exchange.fetch(2, None).await;
        assert_eq!((text(&part), part.full, part.end), ("AB", true, false));
        let part = exchange.fetch(ALL, Some(b'?')).await;
        assert_eq!((text(&part), part.matched, part.end), ("?", true, false));
        let part = exchange.fetch(ALL, None).await;
        assert_eq!((text(&part), part.end, part.then), ("\n", true, Then::Stay));
        assert!(!exchange.is_answering());
    });
}

/// IEEE 488.2 clause 6.3.2.3: a new message that comes before the answer was read interrupts it.
#[test]
fn a_message_before_the_answer_is_got_drops_it() {
    on(|exchange, port, _| async move {
        exchange.put(2, b"A?", true);
        exchange.begun().await;
        exchange.put(4, b"B?", true);
        assert_eq!(exchange.next().await.0, Out::Interrupted { by: 4 });
        let (out, epoch) = exchange.next().await;
        assert_eq!(out, Out::Answer { to: 4, delivery: Delivery::proper(b"B?") });
        assert!(exchange.is_wanted(epoch));
        // It has gone out; whether the client has got it, only the client knows.
        exchange.put(6, b"C", true);
        assert!(!exchange.is_wanted(epoch));
        assert_eq!(exchange.next().await.0, Out::Interrupted { by: 6 });
        assert_eq!(port.interruptions.load(Ordering::Relaxed), 2);
    });
}

#[test]
fn an_answer_that_was_got_cannot_be_interrupted() {
    on(|exchange, port, _| async move {
        for id in [2, 4, 6] {
            exchange.put(id, b"A?", true);
            let (out, _) = exchange.next().await;
            assert_eq!(out, Out::Answer { to: id, delivery: Delivery::proper(b"A?") });
            exchange.delivered();
        }
        assert_eq!(port.interruptions.load(Ordering::Relaxed), 0);
    });
}

/// The same clause: what is asked while a question is being worked at waits, and interrupts its answer.
#[test]
fn a_message_behind_one_that_takes_its_time_interrupts_the_answer_when_it_is_there() {
    on(|exchange, port, clock| async move {
        exchange.put(2, b"5 A?", true);
        exchange.put(4, b"B?", true);
        exchange.begun().await;
        assert_eq!(port.interruptions.load(Ordering::Relaxed), 0);
        assert_eq!(exchange.next().await.0, Out::Interrupted { by: 4 });
        assert_eq!(clock.elapsed().as_secs(), 5);
        let (out, _) = exchange.next().await;
        assert_eq!(out, Out::Answer { to: 4, delivery: Delivery::proper(b"B?") });
    });
}

/// IEEE 488.2 clause 5.8: device clear drops input and output and gives up what is under way.
#[test]
fn a_clear_drops_everything() {
    on(|exchange, port, clock| async move {
        exchange.put(2, b"A?", true);
        exchange.put(4, b"100 B?", true);
        exchange.put(6, b"C", false);
        exchange.begun().await;
        exchange.clear();
        assert!(!exchange.is_answering());
        exchange.put(8, b"D?", true);
        assert_eq!(text(&exchange.fetch(ALL, None).await), "D?\n");
        assert!(clock.elapsed().as_secs() < 1, "the long one was given up");
        assert_eq!(port.interruptions.load(Ordering::Relaxed), 1, "A? by what came behind it");
    });
}

#[test]
fn a_trigger_keeps_its_place_and_nonsense_harms_nobody() {
    on(|exchange, port, _| async move {
        exchange.put(2, b"1 A", true);
        exchange.trigger(4);
        exchange.put(6, b"DATA #15ab", true);
        exchange.put(8, b"B?", true);
        assert_eq!(port.triggers.load(Ordering::Relaxed), 0);
        assert_eq!(text(&exchange.fetch(ALL, None).await), "B?\n");
        assert_eq!(port.triggers.load(Ordering::Relaxed), 1);
        assert_eq!(port.unreadable.load(Ordering::Relaxed), 1);
    });
}

#[test]
fn another_clients_lock_holds_messages_back() {
    on(|exchange, _, clock| async move {
        let none = Bytes::new();
        exchange.locks.take(2, &none).await;
        exchange.put(2, b"A?", true);
        let early = clock.within(Duration::from_secs(1), exchange.fetch(ALL, None)).await;
        assert!(early.is_err());
        exchange.locks.release(2);
        assert_eq!(text(&exchange.fetch(ALL, None).await), "A?\n");
    });
}
