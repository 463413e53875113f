//! Whatever is asked, and however the line behaves, it is down only on a lease that lives.

use proptest::prelude::*;

use super::*;

/// What happens.
#[derive(Clone, Copy, Debug)]
enum Event {
    Down(u64),
    Beat,
    Up,
    Confirm,
    Wait(u64),
    /// The next so many orders to come up fail.
    UpsFail(u32),
    /// The next order to go down, or to stay, fails although it was carried out.
    DownFails,
    /// Orders take so long from now on.
    Slow(u64),
    /// The client gives up waiting for its next answer after so long.
    Impatient(u64),
}

/// What line and client saw.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Seen {
    LineDown,
    LineHeld,
    LineTold { up: bool },
    Granted(Duration),
    Answered { alive: bool },
}

#[derive(Clone)]
struct Line {
    clock: Clock,
    log: Arc<Mutex<Vec<(Duration, Seen)>>>,
    manner: Arc<Mutex<Manner>>,
}

#[derive(Clone, Copy, Default)]
struct Manner {
    ups_fail: u32,
    down_fails: bool,
    slow: Duration,
}

impl Line {
    fn see(&self, seen: Seen) {
        self.log.lock().unwrap().push((self.clock.elapsed(), seen));
    }

    async fn goes(&self, seen: Seen) -> Result<(), InstrumentFault> {
        self.see(seen);
        let (fails, slow) = {
            let mut manner = self.manner.lock().unwrap();
            (std::mem::take(&mut manner.down_fails), manner.slow)
        };
        self.clock.sleep(slow).await;
        if fails { Err(InstrumentFault::Unconfirmed) } else { Ok(()) }
    }
}

#[async_trait]
impl KeyLine for Line {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        Ok(())
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.goes(Seen::LineDown).await
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        self.goes(Seen::LineHeld).await
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        let fails = {
            let mut manner = self.manner.lock().unwrap();
            let fails = manner.ups_fail > 0;
            manner.ups_fail = manner.ups_fail.saturating_sub(1);
            fails
        };
        self.see(Seen::LineTold { up: !fails });
        if fails { Err(InstrumentFault::Unconfirmed) } else { Ok(()) }
    }

    fn refresh_every(&self) -> Option<Duration> {
        Some(ms(250))
    }
}

const SHORT: Terms = Terms {
    longest: Duration::from_millis(1500),
    beat_within: Duration::from_millis(300),
    rest: Duration::from_millis(50),
    rest_factor: 0,
    brief: Duration::ZERO,
};

/// A timer fires up to a millisecond late.
const LATE: Duration = Duration::from_millis(2);

async fn play(clock: Clock, events: &[Event]) -> Vec<(Duration, Seen)> {
    let line = Line { clock, log: Arc::default(), manner: Arc::default() };
    let key = KeyHandle::hold(Box::new(line.clone()), SHORT, clock).await.unwrap();
    let mut patience = Duration::MAX;
    for event in events {
        let patient = std::mem::replace(&mut patience, Duration::from_secs(3600));
        let patient = patient.min(Duration::from_secs(3600));
        match *event {
            Event::Down(longest) => {
                line.see(Seen::Granted(ms(longest)));
                let answer = clock.within(patient, key.down(ms(longest))).await;
                line.see(Seen::Answered { alive: matches!(answer, Ok(Ok(()))) });
            }
            Event::Beat => {
                let answer = clock.within(patient, key.beat()).await;
                line.see(Seen::Answered { alive: matches!(answer, Ok(Ok(()))) });
            }
            Event::Up => drop(clock.within(patient, key.up()).await),
            Event::Confirm => drop(clock.within(patient, key.confirm_up()).await),
            Event::Wait(span) => clock.sleep(ms(span)).await,
            Event::UpsFail(count) => line.manner.lock().unwrap().ups_fail = count,
            Event::DownFails => line.manner.lock().unwrap().down_fails = true,
            Event::Slow(span) => line.manner.lock().unwrap().slow = ms(span),
            Event::Impatient(span) => patience = ms(span),
        }
    }
    // The client is gone without a word. However often the line failed, it is up in the end.
    let untold = line.manner.lock().unwrap().ups_fail;
    drop(key);
    clock.sleep(Duration::from_secs(20 + 4 * u64::from(untold))).await;
    line.log.lock().unwrap().clone()
}

/// What must hold of everything that was seen; the first thing that does not.
fn sound(log: &[(Duration, Seen)]) -> Result<(), String> {
    let mut asked = None;
    // Since when the line is down, when its lease ends, and when it ends unless the client is heard again.
    let mut lease: Option<(Duration, Duration)> = None;
    let mut down = false;
    for (at, seen) in log {
        let at = *at;
        let wrong = |what: &str| Err(format!("{what} at {at:?} in {log:?}"));
        match *seen {
            Seen::Granted(longest) => asked = Some(longest),
            Seen::LineDown => {
                let Some(longest) = asked.take() else { return wrong("down, and nobody asked") };
                if down || longest > SHORT.longest {
                    return wrong("down on no lease");
                }
                down = true;
                lease = Some((at + longest, Duration::MAX));
            }
            Seen::LineHeld => match lease {
                Some((until, _)) if down && at <= until + LATE => {
                    // The line's own time is not the client's.
                    lease = Some((until, Duration::MAX));
                }
                _ => return wrong("held on no lease"),
            },
            Seen::Answered { alive: true } => {
                lease = lease.map(|(until, _)| (until, at + SHORT.beat_within));
            }
            Seen::Answered { alive: false } => {}
            Seen::LineTold { up } => {
                if let Some((until, silent)) = lease.take()
                    && at > until.min(silent) + LATE
                {
                    return wrong("told to come up too late");
                }
                down &= !up;
            }
        }
        if let Some((until, silent)) = lease
            && at > until.min(silent) + LATE
        {
            return wrong("down without a lease that lives");
        }
    }
    if down { Err(format!("down for ever in {log:?}")) } else { Ok(()) }
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        4 => prop_oneof![Just(1000u64), Just(1500), Just(1501), 1u64..1500].prop_map(Event::Down),
        6 => Just(Event::Beat),
        2 => Just(Event::Up),
        1 => Just(Event::Confirm),
        6 => prop_oneof![1u64..290, 290u64..320, Just(1000u64), Just(9000u64)].prop_map(Event::Wait),
        1 => (1u32..14).prop_map(Event::UpsFail),
        1 => Just(Event::DownFails),
        1 => prop_oneof![0u64..250, Just(2500u64)].prop_map(Event::Slow),
        1 => (0u64..400).prop_map(Event::Impatient),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn down_means_a_lease_that_lives(events in prop::collection::vec(event(), 1..40)) {
        let log = run(Pace::Fast, |clock| async move { play(clock, &events).await }).unwrap();
        if let Err(wrong) = sound(&log) {
            return Err(TestCaseError::fail(wrong));
        }
    }
}

/// Every sequence of so many events.
const LENGTH: u32 = 4;

#[test]
fn every_short_story_ends_with_the_key_up() {
    let alphabet = [
        Event::Down(1000),
        Event::Down(100),
        Event::Beat,
        Event::Up,
        Event::Wait(100),
        Event::Wait(299),
        Event::Wait(301),
        Event::UpsFail(1),
        Event::DownFails,
    ];
    let downs = run(Pace::Fast, |clock| async move {
        let mut downs = 0;
        for number in 0..alphabet.len().pow(LENGTH) {
            let event = |place| alphabet[number / alphabet.len().pow(place) % alphabet.len()];
            let events: Vec<Event> = (0..LENGTH).map(event).collect();
            let log = play(clock, &events).await;
            sound(&log).unwrap_or_else(|wrong| panic!("{events:?}: {wrong}"));
            downs += usize::from(log.iter().any(|(_, seen)| *seen == Seen::LineDown));
        }
        downs
    });
    assert!(downs.unwrap() > 2000, "most of them key");
}

/// The model finds what it is there to find.
#[test]
fn a_line_that_is_left_down_is_found() {
    let lease =
        [(ms(0), Seen::Granted(ms(1000))), (ms(0), Seen::LineDown), (ms(0), Seen::Answered { alive: true })];
    let with = |more: &[(Duration, Seen)]| sound(&[&lease, more].concat());
    let up = |at| (ms(at), Seen::LineTold { up: true });
    assert!(with(&[up(300)]).is_ok());
    assert!(with(&[up(310)]).is_err(), "a beat was missed");
    assert!(with(&[]).is_err(), "it stays down");
    assert!(with(&[(ms(200), Seen::LineTold { up: false })]).is_err(), "it did not come up");
    assert!(sound(&[(ms(0), Seen::LineDown), up(1)]).is_err(), "nobody asked");
}
