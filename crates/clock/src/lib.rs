//! The seam of time: everything that waits, times out or stamps takes its time from here.
//!
//! A [`Clock`] is real, or fast: then time is virtual, stands still while anything can run, and jumps to the
//! next timer when nothing can, so that hours of sweeps pass in milliseconds and the same seed gives the same
//! run. This is the only room that may ask the machine for the time.

mod arrivals;
mod underway;

use std::future::Future;
use std::os::fd::AsFd;
use std::sync::Arc;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use tokio::time::Instant;

/// How time passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// As on the wall.
    Real,
    /// Virtual: waiting costs nothing. Only for a bench that lives in this process.
    Fast,
}

/// A source of time; cheap to copy, and all copies agree.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    pace: Pace,
    started: Instant,
    started_at: Timestamp,
}

/// A wait ended because its time was up, not because the thing waited for had happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Elapsed;

/// A moment on a [`Clock`]; only differences between moments mean anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(Instant);

impl Moment {
    /// The moment `span` later.
    #[must_use]
    pub fn after(self, span: Duration) -> Self {
        Self(self.0 + span)
    }

    /// The moment `span` earlier; `None` if the machine's time does not reach back so far.
    #[must_use]
    pub fn before(self, span: Duration) -> Option<Self> {
        self.0.checked_sub(span).map(Self)
    }

    /// The time since an earlier moment; zero if it is not earlier.
    #[must_use]
    pub fn since(self, earlier: Self) -> Duration {
        self.0.saturating_duration_since(earlier.0)
    }
}

/// Runs `main` to its end on a single-threaded runtime whose time passes at `pace`.
///
/// # Errors
///
/// If the operating system refuses the runtime its descriptors.
pub fn run<T, F: Future<Output = T>>(pace: Pace, main: impl FnOnce(Clock) -> F) -> std::io::Result<T> {
    let mut builder = tokio::runtime::Builder::new_current_thread();
    builder.enable_all();
    if pace == Pace::Fast {
        underway::begin();
        builder.start_paused(true).on_thread_park(underway::hurry);
    }
    let runtime = builder.build()?;
    Ok(runtime.block_on(async { main(Clock::start(pace)).await }))
}

/// The machine's own date and time, for who is in no run.
#[must_use]
#[expect(clippy::disallowed_methods, reason = "this is the one place that reads the machine's time")]
pub fn present() -> (Moment, Timestamp) {
    (Moment(Instant::now()), Timestamp::now())
}

/// Tells that so many bytes go out on a socket whose other end may be in this process; before they do.
pub fn sent(bytes: usize) {
    underway::sent(bytes);
}

impl Clock {
    #[expect(clippy::disallowed_methods, reason = "this is the one place that reads the machine's time")]
    fn start(pace: Pace) -> Self {
        Self { pace, started: Instant::now(), started_at: Timestamp::now() }
    }

    /// How time passes on this clock.
    #[must_use]
    pub const fn pace(&self) -> Pace {
        self.pace
    }

    /// The present moment.
    #[must_use]
    #[expect(clippy::disallowed_methods, reason = "this is the one place that reads the machine's time")]
    pub fn now(&self) -> Moment {
        Moment(Instant::now())
    }

    /// Has `hurry` called whenever nothing can run, before virtual time moves, for as long as the caller keeps it: it
    /// sees to what the operating system still has under way, so that time does not move ahead of that. On a real
    /// clock it is never called.
    pub fn before_time_moves(&self, hurry: &Arc<impl Fn() + Send + Sync + 'static>) {
        if self.pace == Pace::Fast {
            underway::add(hurry);
        }
    }

    /// Tells the clock of a socket whose other end is in this process too, before anything has come on it: where
    /// something has, virtual time need not be held up for what may still come. On a real clock nothing is done.
    pub fn hears(&self, socket: &impl AsFd) {
        if self.pace == Pace::Fast {
            underway::watch(socket);
        }
    }

    /// Says that everything that goes out on this thread is told by [`sent`]: then virtual time is held up only for what
    /// was sent and has not come. On a real clock nothing is done.
    pub fn is_told_of_all(&self) {
        if self.pace == Pace::Fast {
            underway::tells_all();
        }
    }

    /// The time since this clock was started.
    #[must_use]
    pub fn elapsed(&self) -> Duration {
        self.now().since(Moment(self.started))
    }

    /// The present date and time. On a fast clock: the real start plus the virtual time since.
    #[must_use]
    #[expect(clippy::disallowed_methods, reason = "this is the one place that reads the machine's time")]
    pub fn timestamp(&self) -> Timestamp {
        match self.pace {
            Pace::Real => Timestamp::now(),
            Pace::Fast => {
                let elapsed = SignedDuration::try_from(self.elapsed()).unwrap_or(SignedDuration::MAX);
                self.started_at.saturating_add(elapsed).unwrap_or(Timestamp::MAX)
            }
        }
    }

    /// Waits for `span`.
    #[expect(clippy::disallowed_methods, reason = "this is the one place that waits")]
    pub async fn sleep(&self, span: Duration) {
        tokio::time::sleep(span).await;
    }

    /// Waits until `moment`; returns at once if it has passed.
    pub async fn sleep_until(&self, moment: Moment) {
        tokio::time::sleep_until(moment.0).await;
    }

    /// Waits for `work`, but at most for `span`.
    ///
    /// # Errors
    ///
    /// [`Elapsed`] if the time was up first; `work` is then dropped.
    #[expect(clippy::disallowed_methods, reason = "this is the one place that waits")]
    pub async fn within<T>(&self, span: Duration, work: impl Future<Output = T>) -> Result<T, Elapsed> {
        tokio::time::timeout(span, work).await.map_err(|_| Elapsed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: Duration = Duration::from_secs(3600);

    #[test]
    fn an_hour_of_virtual_time_passes_at_once() {
        let (moved, stamped) = run(Pace::Fast, |clock| async move {
            let (then, stamp) = (clock.now(), clock.timestamp());
            clock.sleep(HOUR).await;
            (clock.now().since(then), clock.timestamp().duration_since(stamp))
        })
        .unwrap();
        assert!(moved >= HOUR && moved < HOUR + Duration::from_secs(1), "{moved:?}");
        assert_eq!(stamped.as_secs(), 3600);
    }

    #[test]
    fn a_wait_ends_when_its_time_is_up() {
        let outcome =
            run(
                Pace::Fast,
                |clock| async move { clock.within(Duration::from_secs(1), clock.sleep(HOUR)).await },
            )
            .unwrap();
        assert_eq!(outcome, Err(Elapsed));
    }

    #[test]
    fn real_time_passes_by_itself() {
        let span = Duration::from_millis(5);
        let moved = run(Pace::Real, |clock| async move {
            clock.sleep(span).await;
            clock.elapsed()
        })
        .unwrap();
        assert!(moved >= span, "{moved:?}");
    }
}
