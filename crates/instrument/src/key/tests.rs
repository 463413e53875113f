//! The key comes up whatever becomes of the client, shown with a line that records what it is told.

use std::sync::{Arc, Mutex};

use spurline_clock::{Pace, run};
use spurline_record::Role;

use spurline_clock::Clock;

use super::*;

#[derive(Clone)]
struct RecordingLine {
    clock: Clock,
    log: Arc<Mutex<Vec<(bool, Duration)>>>,
    fails: Arc<Mutex<u32>>,
}

impl RecordingLine {
    fn new(clock: Clock) -> Self {
        Self { clock, log: Arc::default(), fails: Arc::default() }
    }

    fn log(&self) -> Vec<(bool, Duration)> {
        self.log.lock().unwrap().clone()
    }
}

#[async_trait]
impl KeyLine for RecordingLine {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        self.down().await
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.log.lock().unwrap().push((true, self.clock.elapsed()));
        Ok(())
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        let mut fails = self.fails.lock().unwrap();
        if *fails > 0 {
            *fails -= 1;
            return Err(InstrumentFault::NotANumber { role: Role::Relay, what: "state" });
        }
        self.log.lock().unwrap().push((false, self.clock.elapsed()));
        Ok(())
    }

    fn refresh_every(&self) -> Option<Duration> {
        Some(ms(300))
    }
}

fn ms(milliseconds: u64) -> Duration {
    Duration::from_millis(milliseconds)
}

const TERMS: Terms = Terms {
    longest: Duration::from_secs(10),
    beat_within: Duration::from_millis(300),
    rest: Duration::from_secs(30),
    rest_factor: 3,
    brief: Duration::ZERO,
};

async fn held(clock: Clock) -> (KeyHandle, RecordingLine) {
    let line = RecordingLine::new(clock);
    (KeyHandle::hold(Box::new(line.clone()), TERMS, clock).await.unwrap(), line)
}

#[test]
fn a_client_that_stops_beating_loses_the_key() {
    run(Pace::Fast, |clock| async move {
        let (key, line) = held(clock).await;
        key.down(ms(5000)).await.unwrap();
        clock.sleep(ms(200)).await;
        key.beat().await.unwrap();
        clock.sleep(ms(5000)).await;
        let log = line.log();
        assert_eq!(log.len(), 2, "{log:?}");
        assert!(!log[1].0 && (ms(500)..ms(510)).contains(&log[1].1), "{log:?}");
        let silent = key.beat().await.unwrap_err();
        assert!(matches!(silent, KeyError::Stalled(silent) if silent == ms(5000)), "{silent:?}");
        assert!(matches!(key.beat().await, Err(KeyError::Lease(LeaseError::NotDown))));
    })
    .unwrap();
}

#[test]
fn beats_keep_it_and_the_lease_ends_it() {
    run(Pace::Fast, |clock| async move {
        let (key, line) = held(clock).await;
        key.down(ms(1000)).await.unwrap();
        for _ in 0..20 {
            clock.sleep(ms(100)).await;
            if key.beat().await.is_err() {
                break;
            }
        }
        let log = line.log();
        let up = log.iter().find(|(down, _)| !down).unwrap();
        assert!((ms(1000)..ms(1010)).contains(&up.1), "{log:?}");
        assert!(log.iter().filter(|(down, _)| *down).count() >= 3, "refreshed: {log:?}");
    })
    .unwrap();
}

#[test]
fn a_client_that_is_dropped_brings_the_key_up() {
    run(Pace::Fast, |clock| async move {
        let (key, line) = held(clock).await;
        key.down(ms(5000)).await.unwrap();
        drop(key);
        clock.sleep(ms(1)).await;
        assert_eq!(line.log().last().map(|(down, _)| *down), Some(false));
    })
    .unwrap();
}

#[test]
fn a_line_that_does_not_confirm_is_asked_again_and_then_reported() {
    run(Pace::Fast, |clock| async move {
        let (key, line) = held(clock).await;
        key.down(ms(5000)).await.unwrap();
        *line.fails.lock().unwrap() = 2;
        assert!(key.up().await.is_ok());
        clock.sleep(ms(30_000)).await;
        key.down(ms(5000)).await.unwrap();
        *line.fails.lock().unwrap() = 100;
        assert!(matches!(key.up().await, Err(KeyError::StillDown(_))));
        assert!(matches!(key.down(ms(5000)).await, Err(KeyError::StillDown(_))), "not before it is up");
        assert!(matches!(key.up().await, Err(KeyError::StillDown(_))), "it is asked again");
        assert!(matches!(key.close().await, Err(KeyError::StillDown(_))), "to the last");
    })
    .unwrap();
}

#[test]
fn the_rest_is_kept() {
    run(Pace::Fast, |clock| async move {
        let (key, _) = held(clock).await;
        key.down(ms(100)).await.unwrap();
        key.up().await.unwrap();
        assert!(matches!(key.down(ms(100)).await, Err(KeyError::Lease(LeaseError::Resting(_)))));
    })
    .unwrap();
}

/// The line fails while the key is down: it comes up by itself, and how long it was down is told with the next up.
#[test]
fn a_key_that_came_up_by_itself_still_tells_how_long_it_was_down() {
    run(Pace::Fast, |clock| async move {
        let line = RecordingLine::new(clock);
        let key = KeyHandle::hold(Box::new(line.clone()), TERMS, clock).await.unwrap();
        key.down(ms(5_000)).await.unwrap();
        // No beat: the lease lapses.
        clock.sleep(ms(2_000)).await;
        assert!(key.beat().await.is_err());
        assert_eq!(key.up().await.unwrap(), ms(300));
        assert_eq!(key.up().await.unwrap(), Duration::ZERO);
        key.close().await.unwrap();
    })
    .unwrap();
}

mod model;
