//! Links made and made again, against instruments played on loopback sockets in virtual time.

use spurline_clock::{Pace, run};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use super::*;

const MANNERS: Manners =
    Manners { longest: 200, compound: true, power_on_bit: true, answer_within: Duration::from_secs(2) };

async fn listener() -> (TcpListener, Address) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap().into();
    (listener, address)
}

async fn open(address: &Address, clock: Clock) -> Result<(Session, Identity), SessionError> {
    Session::open("analyser", address, &LinkSettings::default(), MANNERS, clock, Tap::default()).await
}

/// Answers like an instrument of a serial number, until the client goes or `messages` have come.
async fn serve(stream: TcpStream, serial: &str, events: u8, messages: usize) {
    let mut stream = BufReader::new(stream);
    for _ in 0..messages {
        let mut line = String::new();
        if stream.read_line(&mut line).await.unwrap_or(0) == 0 {
            return;
        }
        let answer = match line.trim_end() {
            "*IDN?" => format!("Example,Analyser,{serial},1.0\n"),
            "*ESR?" => format!("{events}\n"),
            other => match other.strip_prefix("*ESE ").and_then(|rest| rest.strip_suffix(";*ESE?")) {
                Some(token) => format!("{token}\n"),
                None => continue,
            },
        };
        stream.write_all(answer.as_bytes()).await.unwrap();
    }
}

/// Two tokens, the mask back, the event register, `*CLS`, `*IDN?`.
const PROBE: usize = 6;

#[test]
fn a_port_where_nobody_listens_is_told_at_once() {
    run(Pace::Fast, |clock| async move {
        let (listener, address) = listener().await;
        drop(listener);
        let error = open(&address, clock).await.unwrap_err();
        assert!(matches!(error, SessionError::Link { .. }), "{error:?}");
        assert!(clock.elapsed() < Duration::from_secs(1));
    })
    .unwrap();
}

#[test]
fn a_connection_that_nobody_answers_on_is_busy() {
    run(Pace::Fast, |clock| async move {
        // Nobody accepts: the system takes the connection all the same.
        let (_listener, address) = listener().await;
        let error = open(&address, clock).await.unwrap_err();
        assert!(matches!(error, SessionError::Busy { .. }), "{error:?}");
    })
    .unwrap();
}

#[test]
fn a_slot_that_is_freed_late_is_waited_for() {
    run(Pace::Fast, |clock| async move {
        let (listener, address) = listener().await;
        tokio::spawn(async move {
            drop(listener.accept().await.unwrap());
            let (stream, _) = listener.accept().await.unwrap();
            serve(stream, "A-1", 0, PROBE).await;
        });
        assert_eq!(open(&address, clock).await.unwrap().1.serial, "A-1");
    })
    .unwrap();
}

#[test]
fn an_instrument_that_echoes_is_told_apart() {
    run(Pace::Fast, |clock| async move {
        let (listener, address) = listener().await;
        tokio::spawn(async move {
            let (mut stream, _) = listener.accept().await.unwrap();
            let (mut from, mut to) = stream.split();
            drop(tokio::io::copy(&mut from, &mut to).await);
        });
        let error = open(&address, clock).await.unwrap_err();
        assert!(matches!(error, SessionError::Echo { .. }), "{error:?}");
    })
    .unwrap();
}

/// Opens a session that is then cut, and makes it again against what `second` serves.
async fn reopened(clock: Clock, serial: &'static str, events: u8) -> Result<Reopened, SessionError> {
    let (listener, address) = listener().await;
    tokio::spawn(async move {
        let (stream, _) = listener.accept().await.unwrap();
        serve(stream, "A-1", 0, PROBE).await;
        // It refuses for a while, as when it starts.
        let address = listener.local_addr().unwrap();
        drop(listener);
        clock.sleep(Duration::from_secs(20)).await;
        let listener = TcpListener::bind(address).await.unwrap();
        let (stream, _) = listener.accept().await.unwrap();
        serve(stream, serial, events, PROBE).await;
    });
    let (mut session, _) = open(&address, clock).await.unwrap();
    let question = Message::new().unit("A?").unwrap();
    let gone = session.ask(&question, Duration::ZERO).await.unwrap_err();
    assert!(gone.is_of_the_link() && !gone.is_in_the_exchange(), "{gone:?}");
    assert_eq!(session.state(), State::Closed);
    session.reopen(Duration::from_secs(60)).await
}

#[test]
fn a_link_is_made_again_until_the_instrument_is_back() {
    run(Pace::Fast, |clock| async move {
        let again = reopened(clock, "A-1", 128).await.unwrap();
        // After 1, 3, 7, 15 and 31 s.
        assert_eq!(again, Reopened { power_cycled: true, tries: 5 });
    })
    .unwrap();
}

#[test]
fn another_instrument_at_the_same_address_is_refused() {
    run(Pace::Fast, |clock| async move {
        let error = reopened(clock, "A-2", 0).await.unwrap_err();
        assert!(error.to_string().contains("`A-1`") && error.to_string().contains("`A-2`"), "{error}");
        assert!(!error.is_of_the_link());
    })
    .unwrap();
}

#[test]
fn a_link_that_does_not_come_back_is_given_up() {
    run(Pace::Fast, |clock| async move {
        let (listener, address) = listener().await;
        tokio::spawn(async move {
            let (stream, _) = listener.accept().await.unwrap();
            serve(stream, "A-1", 0, PROBE).await;
        });
        let (mut session, _) = open(&address, clock).await.unwrap();
        let began = clock.elapsed();
        let error = session.reopen(Duration::from_secs(60)).await.unwrap_err();
        assert!(matches!(error, SessionError::GivenUp { tries: 6, .. }), "{error:?}");
        assert!(clock.elapsed() - began <= Duration::from_secs(61));
    })
    .unwrap();
}
