//! A control line, against a socket in place of a port.

use std::sync::{Arc, Mutex};

use spurline_clock::{Pace, run};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::UnixListener;

use super::*;

/// What a simulated port was told, and how it behaves.
#[derive(Debug, Default)]
struct Fake {
    told: Vec<String>,
    /// Says this instead of what it is.
    lies: Option<&'static str>,
    /// Is gone when it is told something more.
    vanishes: bool,
    opened: u32,
}

type Shared = Arc<Mutex<Fake>>;

async fn serve(listener: UnixListener, fake: Shared) {
    while let Ok((stream, _)) = listener.accept().await {
        fake.lock().unwrap().opened += 1;
        let mut stream = BufReader::new(stream);
        let mut state = "up\n";
        loop {
            let mut line = String::new();
            if stream.read_line(&mut line).await.unwrap_or(0) == 0 {
                break;
            }
            let answer = {
                let mut fake = fake.lock().unwrap();
                if std::mem::take(&mut fake.vanishes) {
                    break;
                }
                fake.told.push(line.trim().to_owned());
                match line.as_str() {
                    "down\n" => state = "down\n",
                    "up\n" => state = "up\n",
                    _ => {}
                }
                fake.lies.unwrap_or(state)
            };
            stream.get_mut().write_all(answer.as_bytes()).await.unwrap();
        }
    }
}

fn with_line<F: Future<Output = ()>>(test: impl FnOnce(Control, Shared, Clock) -> F) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("line");
    run(Pace::Fast, |clock| async move {
        let fake = Shared::default();
        let served = tokio::spawn(serve(UnixListener::bind(&path).unwrap(), fake.clone()));
        let at = ControlLine { path: path.display().to_string(), wire: ControlWire::Rts, two_lines: false };
        test(Control::new(at, clock), fake, clock).await;
        served.abort();
    })
    .unwrap();
}

#[test]
fn it_is_told_and_looked_at() {
    with_line(|mut line, fake, _| async move {
        line.arm().await.unwrap();
        line.ready().await.unwrap();
        line.down().await.unwrap();
        line.hold().await.unwrap();
        line.up().await.unwrap();
        assert_eq!(fake.lock().unwrap().told, ["up", "up", "down", "state", "up"]);
        assert_eq!(fake.lock().unwrap().opened, 1);
    });
}

#[test]
fn one_that_vanishes_at_once_was_pushed() {
    with_line(|mut line, fake, clock| async move {
        line.arm().await.unwrap();
        for (after, pushed) in [(300, true), (1500, false)] {
            line.down().await.unwrap();
            clock.sleep(Duration::from_millis(after)).await;
            fake.lock().unwrap().vanishes = true;
            let fault = line.hold().await.unwrap_err();
            assert_eq!(matches!(fault, InstrumentFault::KeyVanished { .. }), pushed, "{fault:?}");
            assert!(fault.is_of_the_key_line() && fault.is_of_the_link() != pushed);
            let advice = fault.advice().unwrap();
            assert_eq!(advice.contains("RF on the key cable?"), pushed, "{advice}");
            // Never keyed again by opening it.
            assert!(line.down().await.is_err());
            line.up().await.unwrap();
        }
    });
}

#[test]
fn one_that_says_otherwise_is_not_believed() {
    with_line(|mut line, fake, _| async move {
        line.arm().await.unwrap();
        fake.lock().unwrap().lies = Some("up\n");
        assert!(line.down().await.unwrap_err().to_string().ends_with("says that it is up"));
        fake.lock().unwrap().lies = Some("down\n");
        assert!(line.up().await.unwrap_err().to_string().ends_with("says that it is down"));
        fake.lock().unwrap().lies = Some("what?\n");
        assert!(line.up().await.is_err());
        fake.lock().unwrap().lies = Some("0123456789012345678901234567890\n");
        assert!(line.up().await.is_err());
        fake.lock().unwrap().lies = None;
        line.up().await.unwrap();
    });
}

#[test]
fn only_ports_that_are_named_by_what_is_plugged_in_are_opened() {
    run(Pace::Fast, |clock| async move {
        for (path, what) in [("/dev/null", "is neither"), ("/dev/serial/by-id/none", "is not there")] {
            let at = ControlLine { path: path.to_owned(), wire: ControlWire::Dtr, two_lines: true };
            let fault = Control::new(at, clock).arm().await.unwrap_err().to_string();
            assert!(fault.contains(what), "{fault}");
        }
    })
    .unwrap();
}
