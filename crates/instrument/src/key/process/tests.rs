//! What the process that holds a key makes of what it is told, spoken to over its socket.

use std::path::Path;
use std::sync::{Arc, Mutex};

use spurline_clock::{Pace, run};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::UnixListener;

use super::super::control::{ControlLine, ControlWire};
use super::super::wiring::WiringText;
use super::*;

/// A control line that remembers what it was told last.
async fn line(listener: UnixListener, down: Arc<Mutex<bool>>) {
    while let Ok((stream, _)) = listener.accept().await {
        let mut stream = BufReader::new(stream);
        let mut word = String::new();
        while stream.read_line(&mut word).await.unwrap_or(0) > 0 {
            let is_down = {
                let mut down = down.lock().unwrap();
                match word.trim() {
                    "down" => *down = true,
                    "up" => *down = false,
                    _ => {}
                }
                *down
            };
            word.clear();
            stream.get_mut().write_all(if is_down { b"down\n" } else { b"up\n" }).await.unwrap();
        }
        *down.lock().unwrap() = false;
    }
}

/// A run's end of the socket, and the line.
struct Run {
    socket: UnixStream,
    down: Arc<Mutex<bool>>,
    clock: Clock,
}

impl Run {
    async fn tell(&mut self, text: &str) {
        self.socket.write_all(text.as_bytes()).await.unwrap();
    }

    async fn ask(&mut self, text: &str) -> String {
        self.tell(&format!("{text}\n")).await;
        self.answer().await
    }

    async fn answer(&mut self) -> String {
        let mut line = Vec::new();
        loop {
            match self.clock.within(Duration::from_secs(5), self.socket.read_u8()).await.unwrap() {
                Ok(b'\n') | Err(_) => break,
                Ok(byte) => line.push(byte),
            }
        }
        String::from_utf8(line).unwrap()
    }

    fn is_down(&self) -> bool {
        *self.down.lock().unwrap()
    }
}

/// The first words of a run whose key is the line at a path.
fn arm(path: &Path, again: bool) -> String {
    let arm = Arm {
        protocol: PROTOCOL,
        parent: parent_id(),
        wiring: WiringText::Control(ControlLine {
            path: path.display().to_string(),
            wire: ControlWire::Rts,
            two_lines: false,
        }),
        longest: Duration::from_secs(2),
        beat_within: Duration::from_millis(300),
        rest: Duration::ZERO,
        rest_factor: 0,
        brief: Duration::ZERO,
        rest_first: Duration::ZERO,
        again,
    };
    let first = super::super::frame::Asked { number: 0, ask: Ask::Arm(Box::new(arm)) };
    serde_json::to_string(&first).unwrap()
}

/// Keys, then has `story` do something, and says how the holder ended; the key is up then.
fn held<F: Future<Output = ()>>(story: impl FnOnce(Run) -> F) -> Result<(), KeyholderError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("line");
    run(Pace::Real, |clock| async move {
        let down = Arc::new(Mutex::new(false));
        let served = tokio::spawn(line(UnixListener::bind(&path).unwrap(), down.clone()));
        let (ours, theirs) = std::os::unix::net::UnixStream::pair().unwrap();
        ours.set_nonblocking(true).unwrap();
        let holder = tokio::spawn(async move { keyholder(theirs, clock, |_| {}).await });
        let mut talk = Run { socket: UnixStream::from_std(ours).unwrap(), down: down.clone(), clock };
        let armed = talk.ask(&arm(&path, false)).await;
        assert!(armed.contains("armed"), "{armed}");
        let keyed = talk.ask(r#"{"number":1,"ask":{"down":{"longest":{"secs":1,"nanos":0}}}}"#).await;
        assert!(keyed.contains("left") && talk.is_down(), "{keyed}");
        story(talk).await;
        let ended = clock.within(Duration::from_secs(5), holder).await.expect("it ends").unwrap();
        assert!(!*down.lock().unwrap(), "the key is up when it has ended");
        served.abort();
        ended
    })
    .unwrap()
}

#[test]
fn a_run_that_is_gone_leaves_the_key_up() {
    let ended = held(|run| async move { drop(run) });
    assert!(matches!(ended, Err(KeyholderError::Run(_))), "{ended:?}");
}

#[test]
fn close_is_the_last_word() {
    let ended = held(|mut run| async move {
        assert!(run.ask(r#"{"number":2,"ask":"close"}"#).await.contains("done"));
    });
    assert!(ended.is_ok(), "{ended:?}");
}

#[test]
fn a_run_that_says_nothing_more_loses_the_key() {
    held(|mut run| async move {
        run.clock.sleep(Duration::from_millis(200)).await;
        assert!(run.ask(r#"{"number":2,"ask":"beat"}"#).await.contains("left"));
        run.clock.sleep(Duration::from_millis(250)).await;
        assert!(run.is_down());
        run.clock.sleep(Duration::from_millis(100)).await;
        assert!(!run.is_down());
        let late = run.ask(r#"{"number":3,"ask":"beat"}"#).await;
        assert!(late.contains("not-down") && late.contains(r#""line":"up""#), "{late}");
    })
    .unwrap_err();
}

#[test]
fn whatever_is_wrong_brings_the_key_up_and_ends_it() {
    let long = "x".repeat(2 << 20);
    let stories = [
        "no json\n",
        "{\"number\":3,\"ask\":\"beat\"}\n",
        "{\"number\":1,\"ask\":\"beat\"}\n",
        "{\"number\":2,\"ask\":\"jump\"}\n",
        "{\"number\":2,\"ask\":\"beat\",\"more\":1}\n",
        "{\"number\":2,\"ask\":{\"down\":{\"longest\":{\"secs\":99999999999,\"nanos\":0}}}}\n",
        "{\"number\":2,\"ask\":{\"down\":{\"longest\":{\"secs\":18446744073709551615,\"nanos\":999999999}}}}\n",
        "{\"number\":2,\"ask\":\"beat\"}\n{\"number\":4,\"ask\":\"beat\"}\n",
        "\u{0}\u{0}\n",
        &long,
    ];
    for (number, story) in stories.into_iter().enumerate() {
        let ended = held(|mut run| async move {
            // It may be closed before all is written.
            drop(run.socket.write_all(story.as_bytes()).await);
            let last = loop {
                let answer = run.answer().await;
                if answer.is_empty() || answer.contains("ends") {
                    break answer;
                }
            };
            assert!(
                last.contains("cannot be understood") || last.contains("before it was"),
                "{number}: {last}"
            );
        });
        assert!(matches!(ended, Err(KeyholderError::Run(_))), "{number}: {ended:?}");
    }
}

/// The one before may have left the key down: whoever follows it does not give up before it is up, even alone.
#[test]
fn one_that_follows_another_goes_on_trying_when_its_run_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("line");
    run(Pace::Real, |clock| async move {
        let down = Arc::new(Mutex::new(true));
        let (ours, theirs) = std::os::unix::net::UnixStream::pair().unwrap();
        ours.set_nonblocking(true).unwrap();
        let holder = tokio::spawn(async move { keyholder(theirs, clock, |_| {}).await });
        let mut talk = Run { socket: UnixStream::from_std(ours).unwrap(), down: down.clone(), clock };
        let mut said = talk.ask(&arm(&path, true)).await;
        let mut refused = 0;
        while refused < 2 {
            assert!(said.contains(r#""number":0"#), "{said}");
            refused += u32::from(said.contains("not-armed"));
            said = talk.answer().await;
        }
        drop(talk);
        clock.sleep(Duration::from_millis(700)).await;
        assert!(!holder.is_finished() && *down.lock().unwrap());
        let served = tokio::spawn(line(UnixListener::bind(&path).unwrap(), down.clone()));
        let ended = clock.within(Duration::from_secs(5), holder).await.expect("it ends").unwrap();
        assert!(matches!(ended, Err(KeyholderError::Run(_))), "{ended:?}");
        assert!(!*down.lock().unwrap());
        served.abort();
    })
    .unwrap();
}

#[test]
fn who_is_no_run_is_not_listened_to() {
    for first in ["", "hello\n", "{\"number\":0,\"ask\":\"beat\"}\n"] {
        let ended = run(Pace::Real, |clock| async move {
            let (mut ours, theirs) = std::os::unix::net::UnixStream::pair().unwrap();
            std::io::Write::write_all(&mut ours, first.as_bytes()).unwrap();
            drop(ours);
            keyholder(theirs, clock, |_| {}).await
        })
        .unwrap();
        assert!(matches!(ended, Err(KeyholderError::NoRun(_))), "{first}: {ended:?}");
    }
}
