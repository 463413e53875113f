//! The key behind a relay that is played on a loopback socket: what it is told and when, whatever is wrong with the
//! link.

use std::sync::{Arc, Mutex, MutexGuard};

use spurline_clock::{Pace, run};
use spurline_keyholder::Terms;
use spurline_profile::Profile;
use spurline_transport::{Address, SerialLine};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use super::*;
use crate::key::{KeyError, KeyHandle};

const TERMS: Terms = Terms {
    longest: Duration::from_secs(1),
    beat_within: Duration::from_millis(300),
    rest: Duration::from_secs(30),
    rest_factor: 3,
    brief: Duration::ZERO,
};

/// A relay that is played, and what it has been told.
#[derive(Default)]
struct Played {
    /// From this closing on it hears and cannot answer any more.
    mute_from: Option<usize>,
    /// Behind the answer to this closing comes a line too many.
    stray_at: Option<usize>,
    token_pause: Duration,
    closed: bool,
    mask: String,
    told: Vec<(Duration, String)>,
}

#[derive(Clone, Default)]
struct Shared(Arc<Mutex<Played>>);

impl Shared {
    fn played(&self) -> MutexGuard<'_, Played> {
        self.0.lock().unwrap()
    }

    /// When a command was told, since the start of the clock.
    fn told(&self, command: &str) -> Vec<Duration> {
        let played = self.played();
        played.told.iter().filter(|(_, line)| line.contains(command)).map(|(at, _)| *at).collect()
    }
}

impl Played {
    fn closings(&self) -> usize {
        self.told.iter().filter(|(_, line)| line.contains("ROUT:CLOS (")).count()
    }

    fn answer(&mut self, unit: &str) -> Option<String> {
        match unit {
            "*IDN?" => return Some("Example,Relay,R-1,1.0".to_owned()),
            "*ESR?" => return Some("0".to_owned()),
            "SYST:ERR?" => return Some("0,\"No error\"".to_owned()),
            "*ESE?" => return Some(self.mask.clone()),
            "ROUT:CLOS:TIM?" => return Some("1".to_owned()),
            "ROUT:CLOS? (@1)" => return Some(u8::from(self.closed).to_string()),
            "ROUT:CLOS (@1)" => self.closed = true,
            "ROUT:OPEN (@1)" => self.closed = false,
            other => {
                if let Some(mask) = other.strip_prefix("*ESE ") {
                    mask.clone_into(&mut self.mask);
                }
            }
        }
        None
    }
}

async fn serve(stream: TcpStream, clock: Clock, shared: Shared) {
    let mut stream = BufReader::new(stream);
    let mut line = String::new();
    while stream.read_line(&mut line).await.unwrap_or(0) > 0 {
        let asked = std::mem::take(&mut line).trim_end().to_owned();
        let (text, pause) = {
            let mut played = shared.played();
            played.told.push((clock.elapsed(), asked.clone()));
            let units = asked.split(';').map(|unit| unit.trim_start_matches(':'));
            let answers: Vec<String> = units.filter_map(|unit| played.answer(unit)).collect();
            let closings = played.closings();
            let mute = played.mute_from.is_some_and(|from| closings >= from);
            let stray = asked.contains("ROUT:CLOS (") && played.stray_at == Some(closings);
            let text = match (mute || answers.is_empty(), stray) {
                (true, _) => String::new(),
                (false, true) => format!("{}\n9\n", answers.join(";")),
                (false, false) => format!("{}\n", answers.join(";")),
            };
            (text, if asked.contains("*ESE?") { played.token_pause } else { Duration::ZERO })
        };
        clock.sleep(pause).await;
        stream.write_all(text.as_bytes()).await.unwrap();
    }
}

async fn key(clock: Clock, shared: &Shared, opens_by_itself: Option<f64>) -> KeyHandle {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address: Address = listener.local_addr().unwrap().into();
    let serving = shared.clone();
    tokio::spawn(async move {
        loop {
            let (stream, _) = listener.accept().await.unwrap();
            tokio::spawn(serve(stream, clock, serving.clone()));
        }
    });
    let text = include_str!("../../../../config/profiles/relay-generic.yaml");
    let document = spurline_document::Document::parse("relay.yaml", text).unwrap();
    let profile = Profile::read(&document).unwrap();
    let place =
        Whereabouts { address: &address, profile: &profile, line: SerialLine::default(), serial: None };
    let (relay, _) = Relay::open(place, clock, Tap::default()).await.unwrap();
    let line = RelayKey::new(relay, 1, opens_by_itself.map(Seconds::new));
    KeyHandle::hold(Box::new(line), TERMS, clock).await.unwrap()
}

/// It hears, and its answers are lost, from the closing on: it must be told to open all the same, and at once.
#[test]
fn a_relay_that_hears_is_told_to_open() {
    run(Pace::Fast, |clock| async move {
        let shared = Shared::default();
        let key = key(clock, &shared, None).await;
        shared.played().told.clear();
        shared.played().mute_from = Some(1);
        let down = key.down(TERMS.longest).await;
        assert!(matches!(down, Err(KeyError::StillDown(_))), "{down:?}");
        let (closed, opened) = (shared.told("ROUT:CLOS (@1)")[0], shared.told("ROUT:OPEN (@1)"));
        assert!(!shared.played().closed, "told to open");
        assert!(opened[0] - closed <= TERMS.longest, "{:?} after the closing", opened[0] - closed);
        assert!(matches!(key.close().await, Err(KeyError::StillDown(_))));
    })
    .unwrap();
}

/// A line too many before a refresh, and slow tokens: nothing closes when the lease is over.
#[test]
fn nothing_closes_after_the_lease() {
    run(Pace::Fast, |clock| async move {
        let shared = Shared::default();
        let key = key(clock, &shared, Some(1.0)).await;
        {
            let mut played = shared.played();
            played.told.clear();
            (played.stray_at, played.token_pause) = (Some(2), Duration::from_millis(900));
        }
        let began = clock.elapsed();
        key.down(TERMS.longest).await.unwrap();
        while key.beat().await.is_ok() {
            clock.sleep(Duration::from_millis(100)).await;
        }
        clock.sleep(Duration::from_secs(5)).await;
        let last = shared.told("ROUT:CLOS (@1)").pop().unwrap() - began;
        assert!(last < TERMS.longest, "told to close {last:?} after key down");
        assert!(!shared.played().closed);
    })
    .unwrap();
}

/// Key up is on the wire before the link is brought back into step.
#[test]
fn key_up_is_sent_at_once() {
    run(Pace::Fast, |clock| async move {
        let shared = Shared::default();
        let key = key(clock, &shared, None).await;
        {
            let mut played = shared.played();
            (played.stray_at, played.token_pause) = (Some(1), Duration::from_millis(900));
        }
        key.down(TERMS.longest).await.unwrap();
        let began = clock.elapsed();
        shared.played().told.clear();
        key.up().await.unwrap();
        let after = shared.told("ROUT:OPEN (@1)")[0] - began;
        assert!(after < Duration::from_millis(100), "{after:?}");
    })
    .unwrap();
}

/// A request whose client has gone before it was taken keys nothing.
#[test]
fn nothing_is_keyed_for_nobody() {
    run(Pace::Fast, |clock| async move {
        let shared = Shared::default();
        let key = key(clock, &shared, None).await;
        {
            let down = std::pin::pin!(key.down(TERMS.longest));
            tokio::select! {
                biased;
                _ = down => unreachable!("the holder has not run yet"),
                () = std::future::ready(()) => {}
            }
        }
        assert_eq!(key.up().await.unwrap(), Duration::ZERO);
        assert!(shared.told("ROUT:CLOS (@1)").is_empty());
    })
    .unwrap();
}
