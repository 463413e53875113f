//! Instruments that speak otherwise: other terminators, silence, echo, prompts, pauses.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_transport::{AnswersEnd, Link, LinkError, LinkSettings, StreamLink, Terminator};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, DuplexStream, ReadBuf};

use crate::script::block;

/// Runs a test with a link of some dialect and the far end of its pipe.
fn speaking<F: Future<Output = ()>>(
    settings: LinkSettings,
    test: impl FnOnce(StreamLink<DuplexStream>, DuplexStream, Clock) -> F,
) {
    run(Pace::Fast, |clock| async move {
        let (near, far) = tokio::io::duplex(1 << 16);
        test(StreamLink::with(near, &settings, clock), far, clock).await;
    })
    .unwrap();
}

async fn answer(link: &mut StreamLink<DuplexStream>) -> Vec<u8> {
    link.receive().await.unwrap().bytes.to_vec()
}

fn cr() -> LinkSettings {
    LinkSettings { terminator: Terminator::Cr, ..LinkSettings::default() }
}

fn quiet(milliseconds: u64) -> LinkSettings {
    let answers_end = AnswersEnd::Silence(Duration::from_millis(milliseconds));
    LinkSettings { answers_end, ..LinkSettings::default() }
}

#[test]
fn a_message_has_the_terminator_of_its_dialect() {
    for (terminator, sent) in
        [(Terminator::Lf, "A 1\n"), (Terminator::CrLf, "A 1\r\n"), (Terminator::Cr, "A 1\r")]
    {
        let settings = LinkSettings { terminator, ..LinkSettings::default() };
        speaking(settings, |mut link, mut far, _| async move {
            link.send(b"A 1").await.unwrap();
            let mut found = vec![0; sent.len()];
            far.read_exact(&mut found).await.unwrap();
            assert_eq!(found, sent.as_bytes());
        });
    }
}

#[test]
fn a_carriage_return_may_end_an_answer_but_not_within_a_block_or_a_string() {
    for cut in [1, 2, 1000] {
        speaking(cr(), |mut link, mut far, _| async move {
            let sent = b"1.5\r#15a\r\nb\r\r\"x\ry\";2\r\n#12\r\r\r3\n4\r";
            tokio::spawn(async move {
                for piece in sent.chunks(cut) {
                    far.write_all(piece).await.unwrap();
                    tokio::task::yield_now().await;
                }
                std::future::pending::<()>().await;
            });
            let whole: [&[u8]; 6] = [b"1.5", b"#15a\r\nb\r", b"\"x\ry\";2", b"#12\r\r", b"3", b"4"];
            for expected in whole {
                assert_eq!(answer(&mut link).await, expected, "{cut}");
            }
        });
    }
}

#[test]
fn silence_ends_an_answer() {
    speaking(quiet(50), |mut link, mut far, clock| async move {
        tokio::spawn(async move {
            for piece in [&b"1.2"[..], b"5", b"E3\r"] {
                clock.sleep(Duration::from_millis(40)).await;
                far.write_all(piece).await.unwrap();
            }
            clock.sleep(Duration::from_secs(1)).await;
            far.write_all(b"2\n3").await.unwrap();
            clock.sleep(Duration::from_secs(1)).await;
            far.write_all(b"#14ab").await.unwrap();
            std::future::pending::<()>().await;
        });
        assert_eq!(answer(&mut link).await, b"1.25E3");
        assert_eq!(clock.elapsed().as_millis(), 170);
        assert_eq!((answer(&mut link).await, answer(&mut link).await), (b"2".to_vec(), b"3".to_vec()));
        // A block that is not whole is not made so by silence; afterwards the link goes on.
        assert!(matches!(link.receive().await, Err(LinkError::Decode(_))));
    });
}

#[test]
fn a_line_that_stays_quiet_is_waited_for() {
    speaking(quiet(50), |mut link, far, clock| async move {
        let _open = far;
        let waited = clock.within(Duration::from_secs(60), link.receive()).await;
        assert!(waited.is_err(), "{waited:?}");
    });
}

#[test]
fn echo_and_prompt_are_no_answer() {
    let settings = LinkSettings {
        echo: true,
        prompt: "> ".to_owned(),
        terminator: Terminator::CrLf,
        ..LinkSettings::default()
    };
    speaking(settings, |mut link, mut far, _| async move {
        link.send(b"VOLT 5").await.unwrap();
        far.write_all(b"VOLT 5\r\n> ").await.unwrap();
        assert_eq!(link.unread().await.unwrap(), 0);
        link.send(b"VOLT?").await.unwrap();
        far.write_all(b"VOLT?\r\n5.000\r\n> ").await.unwrap();
        assert_eq!(answer(&mut link).await, b"5.000");
        assert_eq!(link.unread().await.unwrap(), 0);
        link.send(b"VOLT?").await.unwrap();
        far.write_all(b"5.000\r\n").await.unwrap();
        let error = link.receive().await.unwrap_err();
        assert!(matches!(error, LinkError::NoEcho { .. }), "{error:?}");
    });
}

#[test]
fn a_pause_is_kept_between_messages() {
    let settings = LinkSettings { pause: Duration::from_millis(100), ..LinkSettings::default() };
    speaking(settings, |mut link, mut far, clock| async move {
        link.send(b"A 1").await.unwrap();
        assert_eq!(clock.elapsed().as_millis(), 0);
        link.send(b"A 2").await.unwrap();
        assert_eq!(clock.elapsed().as_millis(), 100);
        clock.sleep(Duration::from_millis(70)).await;
        far.write_all(b"1\n").await.unwrap();
        assert_eq!(answer(&mut link).await, b"1");
        link.send(b"A?").await.unwrap();
        assert_eq!(clock.elapsed().as_millis(), 270);
    });
}

/// Behind the block of a message with two queries the second answer follows, whenever it is ready.
#[test]
fn a_block_is_not_the_end_where_more_is_owed() {
    speaking(LinkSettings::default(), |mut link, mut far, clock| async move {
        link.send(b"TRAC? TRACE1;:SYST:ERR?").await.unwrap();
        tokio::spawn(async move {
            far.write_all(b"#14abcd").await.unwrap();
            clock.sleep(Duration::from_secs(1)).await;
            far.write_all(b";0,\"No error\"\n").await.unwrap();
            std::future::pending::<()>().await;
        });
        assert_eq!(answer(&mut link).await, b"#14abcd;0,\"No error\"");
    });
}

#[test]
fn a_message_that_is_cut_off_is_finished_before_the_next() {
    run(Pace::Fast, |clock| async move {
        let (near, mut far) = tokio::io::duplex(4);
        let mut link = StreamLink::with(near, &LinkSettings::default(), clock);
        let cut = clock.within(Duration::from_secs(1), link.send(b"FIRST 1")).await;
        assert!(cut.is_err());
        let sent = tokio::spawn(async move { link.send(b"SECOND 2").await });
        let mut found = vec![0; "FIRST 1\nSECOND 2\n".len()];
        far.read_exact(&mut found).await.unwrap();
        assert_eq!(found, b"FIRST 1\nSECOND 2\n");
        sent.await.unwrap().unwrap();
    })
    .unwrap();
}

#[test]
fn a_block_that_makes_no_sense_does_not_stay_in_the_way() {
    speaking(LinkSettings::default(), |mut link, mut far, _| async move {
        far.write_all(b"#99999999999\n").await.unwrap();
        assert!(matches!(link.receive().await, Err(LinkError::Decode(_))));
        far.write_all(b"1\n").await.unwrap();
        assert_eq!(answer(&mut link).await, b"1");
    });
}

/// A stream that fills whatever room it is given, and counts how often.
#[derive(Debug)]
struct Plenty {
    left: Vec<u8>,
    reads: Arc<AtomicUsize>,
}

impl AsyncRead for Plenty {
    fn poll_read(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
        room: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        self.reads.fetch_add(1, Ordering::Relaxed);
        let count = room.remaining().min(self.left.len());
        room.put_slice(&self.left[..count]);
        self.left.drain(..count);
        Poll::Ready(Ok(()))
    }
}

impl AsyncWrite for Plenty {
    fn poll_write(self: Pin<&mut Self>, _: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        panic!("on a serial port a flush waits for the wire")
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        panic!("on a serial port a shutdown waits for the wire")
    }
}

/// The length that a block announces is made room for at once: a trace costs two or three reads, not hundreds.
#[test]
fn a_large_block_is_read_in_few_pieces_and_never_flushed_for() {
    run(Pace::Fast, |clock| async move {
        let reads = Arc::new(AtomicUsize::new(0));
        let left = [block(1_600_000), b"\n".to_vec(), block(1_600_000), b"\n".to_vec()].concat();
        let stream = Plenty { left, reads: reads.clone() };
        let mut link = StreamLink::with(stream, &LinkSettings::default(), clock);
        for _ in 0..2 {
            link.send(b"TRAC? TRACE1").await.unwrap();
            assert!(link.receive().await.unwrap().bytes == block(1_600_000));
        }
        assert!(reads.load(Ordering::Relaxed) <= 6, "{reads:?}");
    })
    .unwrap();
}
