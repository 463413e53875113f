//! The statements.

use std::time::Duration;

use spurline_transport::{Cleared, Framing, LinkError};

use crate::script::{IDENTITY, Script, block};
use crate::{ALL, STREAMS, Way, ask, over};

#[test]
fn it_identifies() {
    over(&ALL, Script::PLAIN, |way, mut link, _| async move {
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
        let stream = STREAMS.contains(&way);
        assert_eq!(link.framing() == Framing::Stream, stream, "{way:?}");
    });
}

#[test]
fn a_message_arrives_whole() {
    for script in [Script::PLAIN, Script::SMALL] {
        over(&ALL, script, |way, mut link, _| async move {
            let text = "x".repeat(5000);
            assert_eq!(ask(&mut link, &format!("ECHO? {text}")).await, text.as_bytes(), "{way:?}");
        });
    }
}

#[test]
fn a_large_binary_answer_arrives_whole() {
    over(&ALL, Script::PLAIN, |way, mut link, _| async move {
        assert!(ask(&mut link, "BLOCK? 1600000").await == block(1_600_000), "{way:?}");
    });
}

/// Where buffers of the usual sizes end: one byte before, just there, one byte behind.
#[test]
fn answers_of_awkward_lengths_arrive_whole() {
    over(&ALL, Script::PLAIN, |way, mut link, _| async move {
        for buffer in [4096, 20_480] {
            for length in (1..=3).flat_map(|k| [k * buffer - 1, k * buffer, k * buffer + 1]) {
                // The whole answer has that length, and its data have it.
                let head = block(length).len() - length;
                for data in [length, length - head - 1] {
                    let found = ask(&mut link, &format!("BLOCK? {data}")).await;
                    assert!(found == block(data), "{way:?}: {data}");
                }
            }
        }
    });
}

#[test]
fn an_answer_arrives_whole_byte_by_byte() {
    over(&ALL, Script::SMALL, |way, mut link, _| async move {
        for length in [0, 1, 4095, 4096, 4097] {
            assert!(ask(&mut link, &format!("BLOCK? {length}")).await == block(length), "{way:?}: {length}");
        }
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
    });
}

#[test]
fn a_block_without_terminator_is_an_answer() {
    over(&ALL, Script::PLAIN, |way, mut link, clock| async move {
        let before = clock.now();
        assert!(ask(&mut link, "BARE? 1000").await == block(1000), "{way:?}");
        let waited = clock.now().since(before);
        assert!(waited <= Duration::from_millis(51), "{way:?}: {waited:?}");
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
    });
}

#[test]
fn two_answers_are_not_mixed() {
    over(&ALL, Script::PLAIN, |way, mut link, _| async move {
        for text in ["one", "two", "three"] {
            assert_eq!(ask(&mut link, &format!("ECHO? {text}")).await, text.as_bytes(), "{way:?}");
        }
    });
    over(&STREAMS, Script::PLAIN, |way, mut link, _| async move {
        link.send(b"ECHO? one").await.unwrap();
        link.send(b"ECHO? two").await.unwrap();
        assert_eq!(link.receive().await.unwrap().bytes, "one", "{way:?}");
        assert_eq!(link.receive().await.unwrap().bytes, "two", "{way:?}");
    });
    // A link of messages knows which answer belongs to which question.
    over(&[Way::Hislip], Script::PLAIN, |_, mut link, clock| async move {
        link.send(b"ECHO? one").await.unwrap();
        clock.sleep(Duration::from_secs(1)).await;
        assert_eq!(ask(&mut link, "ECHO? two").await, b"two");
    });
}

#[test]
fn a_wait_that_is_given_up_loses_nothing() {
    for script in [Script::PLAIN, Script::SMALL] {
        over(&ALL, script, |way, mut link, clock| async move {
            link.send(b"LATE? at last").await.unwrap();
            for _ in 0..3 {
                let early = clock.within(Duration::from_secs(1), link.receive()).await;
                assert!(early.is_err(), "{way:?}: {early:?}");
            }
            assert_eq!(link.receive().await.unwrap().bytes, "at last", "{way:?}");
            assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
        });
    }
}

#[test]
fn a_peer_that_closes_is_gone() {
    for script in [Script::PLAIN, Script::SMALL] {
        over(&ALL, script, |way, mut link, _| async move {
            link.send(b"CLOSE?").await.unwrap();
            let error = link.receive().await.unwrap_err();
            assert!(matches!(error, LinkError::Gone), "{way:?}: {error:?}");
            let again = link.receive().await.unwrap_err();
            assert!(matches!(again, LinkError::Gone), "{way:?}: {again:?}");
        });
    }
}

#[test]
fn unread_bytes_are_seen() {
    over(&STREAMS, Script::PLAIN, |way, mut link, _| async move {
        assert_eq!(link.unread().await.unwrap(), 0, "{way:?}");
        link.send(b"SPILL something").await.unwrap();
        // A serial line delivers when the kernel finds the time, which has nothing to do with virtual time.
        for _ in 0..10_000_000 {
            if link.unread().await.unwrap() == "something\n".len() {
                break;
            }
            tokio::task::yield_now().await;
        }
        assert_eq!(link.unread().await.unwrap(), "something\n".len(), "{way:?}");
        assert_eq!(link.receive().await.unwrap().bytes, "something", "{way:?}");
        assert_eq!(link.unread().await.unwrap(), 0, "{way:?}");
    });
    over(&ALL, Script::PLAIN, |way, mut link, _| async move {
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY);
        assert_eq!(link.unread().await.unwrap(), 0, "{way:?}");
    });
}

/// Lets everything else run so many times.
async fn turns(count: usize) {
    for _ in 0..count {
        tokio::task::yield_now().await;
    }
}

#[test]
fn a_clear_drops_an_answer() {
    let cases = [
        (Script::PLAIN, 0),
        (Script::PLAIN, 2),
        (Script::SMALL, 0),
        (Script::SMALL, 7),
        (Script::SMALL, 900),
    ];
    for (script, turn) in cases {
        over(&ALL, script, |way, mut link, _| async move {
            if STREAMS.contains(&way) {
                assert_eq!(link.clear().await.unwrap(), Cleared::NotPossible, "{way:?}");
                return;
            }
            link.send(b"BLOCK? 3000").await.unwrap();
            // However far it has come: not at all, in part, or whole and not fetched.
            tokio::select! {
                biased;
                _ = link.receive() => {}
                () = turns(turn) => {}
            }
            assert_eq!(link.clear().await.unwrap(), Cleared::Device, "{way:?}");
            assert_eq!(link.unread().await.unwrap(), 0, "{way:?}");
            assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
            assert_eq!(link.clear().await.unwrap(), Cleared::Device, "{way:?}");
            assert_eq!(ask(&mut link, "ECHO? more").await, b"more", "{way:?}");
        });
    }
}

#[test]
fn a_clear_that_is_given_up_is_finished_later() {
    over(&[Way::Hislip, Way::Vxi11], Script::PLAIN, |way, mut link, clock| async move {
        link.send(b"LATE? stale").await.unwrap();
        clock.sleep(Duration::from_millis(1)).await;
        assert!(clock.within(Duration::from_secs(1), link.clear()).await.is_err(), "{way:?}");
        clock.sleep(Duration::from_secs(10)).await;
        assert_eq!(link.clear().await.unwrap(), Cleared::Device, "{way:?}");
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY, "{way:?}");
    });
}

/// The played devices have 0x50 as their status, and bit 4 is set while an answer waits: MAV, IEEE 488.2 clause 11.2.
#[test]
fn the_status_is_asked_for_beside_the_messages() {
    over(&ALL, Script::PLAIN, |way, mut link, clock| async move {
        if STREAMS.contains(&way) {
            assert_eq!(link.status().await.unwrap(), None, "{way:?}");
            return;
        }
        assert_eq!(link.status().await.unwrap(), Some(0x40), "{way:?}");
        link.send(b"ECHO? waiting").await.unwrap();
        clock.sleep(Duration::from_millis(1)).await;
        assert_eq!(link.status().await.unwrap(), Some(0x50), "{way:?}");
        assert_eq!(link.receive().await.unwrap().bytes, "waiting", "{way:?}");
        assert_eq!(link.status().await.unwrap(), Some(0x40), "{way:?}");
    });
}
