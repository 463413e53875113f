//! The lease as a state machine: events and the time in, orders to the line out.
//!
//! ```text
//!            grant                 beat (within `beat_within`)
//!   up ───────────────► down ───────────────┐
//!    ▲                   │  ▲───────────────┘
//!    └───────────────────┘
//!      release | longest reached | beat late
//! ```

use std::time::Duration;

use thiserror::Error;

/// How long a lease may last and how often it must be confirmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Terms {
    /// The longest that the key may stay down, whatever is asked.
    pub longest: Duration,
    /// The longest time between two heartbeats.
    pub beat_within: Duration,
    /// The shortest time that the key stays up between two leases.
    pub rest: Duration,
    /// And at least this many times as long as it was down.
    pub rest_factor: u32,
    /// After a lease that is asked for no longer than this, that alone counts.
    pub brief: Duration,
}

/// What the line must do now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Nothing.
    Stay,
    /// Key up, now.
    KeyUp,
}

/// Why a lease is not given or not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum LeaseError {
    /// The key is down already.
    #[error("the key is down already")]
    AlreadyDown,
    /// More was asked than may be given.
    #[error("expected a lease of at most {longest:?}, found {asked:?}")]
    TooLong {
        /// What may be given.
        longest: Duration,
        /// What was asked.
        asked: Duration,
    },
    /// The transmitter has not rested long enough.
    #[error("the transmitter must rest for another {0:?}")]
    Resting(Duration),
    /// There is no lease to keep alive.
    #[error("the key is up: there is no lease to keep alive")]
    NotDown,
}

/// One key line's lease. Times are spans since any fixed start; they must not run backwards.
#[derive(Clone, Copy, Debug)]
pub struct Lease {
    terms: Terms,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Up { rested: Duration },
    Down { since: Duration, until: Duration, beat: Duration },
}

impl Lease {
    /// A line that is up and rested.
    #[must_use]
    pub fn new(terms: Terms) -> Self {
        Self { terms, state: State::Up { rested: Duration::ZERO } }
    }

    /// Gives a lease of `asked` from `now`; only after this may the line go down.
    ///
    /// # Errors
    ///
    /// [`LeaseError`]; the line stays as it is.
    pub fn grant(&mut self, now: Duration, asked: Duration) -> Result<(), LeaseError> {
        if asked > self.terms.longest {
            return Err(LeaseError::TooLong { longest: self.terms.longest, asked });
        }
        match self.state {
            State::Down { .. } => Err(LeaseError::AlreadyDown),
            State::Up { .. } => {
                let rest = self.rest_due(now);
                if !rest.is_zero() {
                    return Err(LeaseError::Resting(rest));
                }
                self.state = State::Down { since: now, until: now + asked, beat: now };
                Ok(())
            }
        }
    }

    /// Takes a heartbeat. It does not make the lease longer.
    ///
    /// # Errors
    ///
    /// [`LeaseError::NotDown`] if the lease has ended; the line is up.
    pub fn beat(&mut self, now: Duration) -> Result<(), LeaseError> {
        if self.look(now) == Order::KeyUp {
            return Err(LeaseError::NotDown);
        }
        match &mut self.state {
            State::Up { .. } => Err(LeaseError::NotDown),
            State::Down { beat, .. } => {
                *beat = now;
                Ok(())
            }
        }
    }

    /// Looks at the time: says [`Order::KeyUp`] when the lease has ended by itself.
    ///
    /// The state is left as it is until [`Lease::release`], so that the order is given again and again until
    /// the line has confirmed.
    #[must_use]
    pub fn look(&self, now: Duration) -> Order {
        match self.ends_at() {
            Some(end) if now >= end => Order::KeyUp,
            Some(_) | None => Order::Stay,
        }
    }

    /// When the lease ends if no heartbeat comes; `None` while the key is up.
    #[must_use]
    pub fn ends_at(&self) -> Option<Duration> {
        match self.state {
            State::Up { .. } => None,
            State::Down { until, beat, .. } => Some(until.min(beat + self.terms.beat_within)),
        }
    }

    /// When the lease ends whatever is done; `None` while the key is up.
    #[must_use]
    pub fn until(&self) -> Option<Duration> {
        match self.state {
            State::Up { .. } => None,
            State::Down { until, .. } => Some(until),
        }
    }

    /// Counts the client as alive now: what kept its heartbeat waiting was the holder itself. It does not make the
    /// lease longer.
    pub fn excuse(&mut self, now: Duration) {
        if let State::Down { beat, .. } = &mut self.state {
            *beat = now;
        }
    }

    /// Notes that the line is up, and says how long it was down.
    pub fn release(&mut self, now: Duration) -> Duration {
        match self.state {
            State::Up { .. } => Duration::ZERO,
            State::Down { since, until, .. } => {
                let held = now.saturating_sub(since);
                let asked = until.saturating_sub(since);
                let least = if asked <= self.terms.brief { Duration::ZERO } else { self.terms.rest };
                let rest = least.max(held * self.terms.rest_factor);
                self.state = State::Up { rested: now + rest };
                held
            }
        }
    }

    /// Begins the rest anew, as when the key was surely up only now.
    pub fn rest_again(&mut self, now: Duration) {
        if let State::Up { rested } = &mut self.state {
            *rested = (*rested).max(now + self.terms.rest);
        }
    }

    /// Has the transmitter rest for at least `span` from `now` on, as after a lease that somebody else held.
    pub fn rest_for(&mut self, now: Duration, span: Duration) {
        if let State::Up { rested } = &mut self.state {
            *rested = (*rested).max(now + span);
        }
    }

    /// Whether the key is down on a lease.
    #[must_use]
    pub fn is_down(&self) -> bool {
        matches!(self.state, State::Down { .. })
    }

    /// How much longer the transmitter must rest.
    #[must_use]
    pub fn rest_due(&self, now: Duration) -> Duration {
        match self.state {
            State::Up { rested } => rested.saturating_sub(now),
            State::Down { .. } => Duration::ZERO,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn ms(milliseconds: u64) -> Duration {
        Duration::from_millis(milliseconds)
    }

    fn lease() -> Lease {
        Lease::new(Terms {
            longest: ms(10_000),
            beat_within: ms(300),
            rest: ms(30_000),
            rest_factor: 5,
            brief: ms(50),
        })
    }

    #[test]
    fn a_late_beat_ends_it() {
        let mut lease = lease();
        lease.grant(ms(0), ms(10_000)).unwrap();
        lease.beat(ms(299)).unwrap();
        assert_eq!(lease.look(ms(598)), Order::Stay);
        assert_eq!(lease.look(ms(599)), Order::KeyUp);
        assert_eq!(lease.beat(ms(600)), Err(LeaseError::NotDown));
        assert_eq!(lease.release(ms(601)), ms(601));
        assert!(!lease.is_down());
    }

    #[test]
    fn beats_do_not_make_it_longer() {
        let mut lease = lease();
        lease.grant(ms(0), ms(1000)).unwrap();
        for at in (100..1000).step_by(100) {
            lease.beat(ms(at)).unwrap();
        }
        assert_eq!(lease.look(ms(999)), Order::Stay);
        assert_eq!(lease.look(ms(1000)), Order::KeyUp);
    }

    #[test]
    fn a_rest_that_begins_anew_is_never_shorter() {
        let mut lease = lease();
        lease.grant(ms(0), ms(100)).unwrap();
        lease.release(ms(100));
        let due = lease.rest_due(ms(100));
        lease.rest_again(ms(500));
        assert_eq!(lease.rest_due(ms(500)), due);
        lease.rest_again(ms(200));
        assert_eq!(lease.rest_due(ms(500)), due);
    }

    /// A lease that was asked for no longer than the brief ones rests only as many times as long as it was down; one that
    /// was asked for longer and given back as early does not.
    #[test]
    fn a_brief_lease_asks_for_a_brief_rest() {
        let mut lease = lease();
        lease.grant(ms(0), ms(50)).unwrap();
        lease.release(ms(40));
        assert_eq!(lease.rest_due(ms(40)), ms(200));
        lease.grant(ms(240), ms(51)).unwrap();
        lease.release(ms(280));
        assert_eq!(lease.rest_due(ms(280)), ms(30_000));
    }

    #[test]
    fn a_rest_is_due_between_leases() {
        let mut lease = lease();
        lease.grant(ms(0), ms(500)).unwrap();
        assert_eq!(lease.grant(ms(1), ms(500)), Err(LeaseError::AlreadyDown));
        lease.release(ms(200));
        assert_eq!(lease.grant(ms(10_200), ms(500)), Err(LeaseError::Resting(ms(20_000))));
        lease.grant(ms(30_200), ms(500)).unwrap();
    }

    #[test]
    fn a_long_key_down_asks_for_a_longer_rest() {
        let mut lease = lease();
        lease.grant(ms(0), ms(10_000)).unwrap();
        lease.release(ms(9_000));
        assert_eq!(lease.rest_due(ms(10_000)), ms(44_000), "5 x 9 s, of which 1 s has passed");
    }

    #[test]
    fn no_lease_is_longer_than_the_terms() {
        assert!(matches!(lease().grant(ms(0), ms(10_001)), Err(LeaseError::TooLong { .. })));
    }

    proptest! {
        /// Whatever is asked in whatever order, the key is never down past what was granted without an order to
        /// bring it up, and never past the last beat + 300 ms.
        #[test]
        fn it_never_outlives_its_terms(steps in prop::collection::vec((0u8..3, 1u64..350), 1..60)) {
            let mut lease = lease();
            let (mut now, mut granted, mut beaten) = (ms(0), None, ms(0));
            for (what, pause) in steps {
                now += ms(pause);
                if lease.look(now) == Order::KeyUp {
                    lease.release(now);
                    granted = None;
                }
                match what {
                    0 => if lease.grant(now, ms(600)).is_ok() { granted = Some(now); beaten = now; },
                    1 => if lease.beat(now).is_ok() { beaten = now; },
                    _ => { lease.release(now); granted = None; }
                }
                if lease.is_down() {
                    let since = granted.expect("only a grant brings the key down");
                    prop_assert!(now < since + ms(600) && now < beaten + ms(300));
                }
            }
        }
    }
}
