//! The key on leases: a task of its own holds the line, and brings it up whatever becomes of its client.

use std::time::Duration;

use async_trait::async_trait;
use spurline_clock::{Clock, Moment};
use spurline_keyholder::{Lease, LeaseError, Order, Terms};
use thiserror::Error;
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;

use crate::error::InstrumentFault;

/// A line that can key a transmitter.
#[async_trait]
pub trait KeyLine: Send {
    /// Makes the line ready, up, before anything is keyed.
    async fn arm(&mut self) -> Result<(), InstrumentFault>;
    /// Makes sure, just before a key-down, that the line is up and still ready, and makes it ready again if not.
    async fn ready(&mut self) -> Result<(), InstrumentFault>;
    /// Key down, told once: now, or not at all.
    async fn down(&mut self) -> Result<(), InstrumentFault>;
    /// Down for longer, told once; fails if the key has come up by itself.
    async fn hold(&mut self) -> Result<(), InstrumentFault>;
    /// Key up, confirmed. Whatever state the line is in, it is told first, and only then asked.
    async fn up(&mut self) -> Result<(), InstrumentFault>;
    /// How often a line that opens by itself must be told again to stay down.
    fn refresh_every(&self) -> Option<Duration>;
}

/// Why the key did not do what it was asked.
#[derive(Debug, Error)]
pub enum KeyError {
    /// The lease does not allow it, or has ended.
    #[error("the lease on the key does not allow it")]
    Lease(#[from] LeaseError),
    /// The line is not fit to be told anything; the key is up.
    #[error("the key line is not ready")]
    NotReady(#[source] InstrumentFault),
    /// The line failed; the key was brought up.
    #[error("the key line failed")]
    Line(#[source] InstrumentFault),
    /// The line does not confirm that the key is up.
    #[error("the key line does not confirm key up: the transmitter may still be keyed")]
    StillDown(#[source] InstrumentFault),
    /// The line confirmed that the key is up, but late.
    #[error("the key line confirmed key up only after several attempts")]
    ConfirmedLate(#[source] InstrumentFault),
    /// The task that holds the key is gone.
    #[error("nobody holds the key any more")]
    NoHolder,
}

impl KeyError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<&'static str> {
        match self {
            Self::StillDown(_) | Self::NoHolder => Some("switch the unit's supply off by hand now"),
            Self::NotReady(fault) | Self::Line(fault) | Self::ConfirmedLate(fault) => fault.advice(),
            Self::Lease(LeaseError::TooLong { .. }) => {
                Some("raise `key: longest` in the plan if the unit can bear it")
            }
            Self::Lease(LeaseError::NotDown) => Some(
                "the key came up by itself: the relay, or this machine, was too slow to say in time that it is still \
                 wanted",
            ),
            Self::Lease(_) => None,
        }
    }
}

enum Request {
    Down(Duration),
    Confirm,
    Beat,
    Up,
}

type Answer = Result<Duration, KeyError>;

/// The client's end. Dropping it brings the key up.
#[derive(Debug)]
pub struct KeyHandle {
    requests: mpsc::Sender<(Request, oneshot::Sender<Answer>)>,
    holder: JoinHandle<Answer>,
}

/// For how long up is tried before the holder says that the line does not confirm, and how soon again: twice as late
/// each time.
const UP_TRIED_FOR: Duration = Duration::from_secs(8);
/// No attempt may take so long that there is no time for another.
const ONE_UP_WITHIN: Duration = Duration::from_secs(3);
/// A line that takes longer to go down has failed.
const DOWN_WITHIN: Duration = Duration::from_secs(2);
const UP_AGAIN_AFTER: Duration = Duration::from_millis(100);
const UP_AGAIN_AT_LATEST: Duration = Duration::from_secs(1);
/// How soon a line that did not confirm is asked again while nobody wants anything of it.
const ASK_AGAIN_AFTER: Duration = Duration::from_secs(1);

impl KeyHandle {
    /// Makes the line ready and hands it to a task of its own.
    ///
    /// # Errors
    ///
    /// [`KeyError::Line`] if the line cannot be made ready.
    pub async fn hold(mut line: Box<dyn KeyLine>, terms: Terms, clock: Clock) -> Result<Self, KeyError> {
        line.arm().await.map_err(KeyError::Line)?;
        // One request at a time: the client waits for each answer.
        let (requests, inbox) = mpsc::channel(1);
        let start = clock.now();
        let holder = Holder {
            line,
            lease: Lease::new(terms),
            clock,
            start,
            refreshed: start,
            since: None,
            unconfirmed: false,
            untold: Duration::ZERO,
        };
        Ok(Self { requests, holder: tokio::spawn(holder.serve(inbox)) })
    }

    /// Key down on a lease of at most `longest`.
    ///
    /// # Errors
    ///
    /// [`KeyError`]; the key is then up.
    pub async fn down(&self, longest: Duration) -> Result<(), KeyError> {
        self.request(Request::Down(longest)).await.map(drop)
    }

    /// Says that the client is alive and still wants the key down.
    ///
    /// # Errors
    ///
    /// [`KeyError`] if the key has come up meanwhile.
    pub async fn beat(&self) -> Result<(), KeyError> {
        self.request(Request::Beat).await.map(drop)
    }

    /// Key up; says how long it was down. Does nothing if it is up; a line that did not confirm last time is asked
    /// again.
    ///
    /// # Errors
    ///
    /// [`KeyError::StillDown`] if the line does not confirm.
    pub async fn up(&self) -> Result<Duration, KeyError> {
        self.request(Request::Up).await
    }

    /// Key up, and asks the line whether it is, even if it was seen to be: as before an instrument is reset.
    ///
    /// # Errors
    ///
    /// [`KeyError::StillDown`] if the line does not confirm.
    pub async fn confirm_up(&self) -> Result<(), KeyError> {
        self.request(Request::Confirm).await.map(drop)
    }

    /// Gives the line back: key up, and the task ends. Says how long the key was down, as far as that was not told.
    ///
    /// # Errors
    ///
    /// [`KeyError::StillDown`] if the line does not confirm.
    pub async fn close(self) -> Result<Duration, KeyError> {
        drop(self.requests);
        self.holder.await.unwrap_or(Err(KeyError::NoHolder))
    }

    async fn request(&self, request: Request) -> Answer {
        let (reply, answer) = oneshot::channel();
        self.requests.send((request, reply)).await.map_err(|_| KeyError::NoHolder)?;
        answer.await.map_err(|_| KeyError::NoHolder)?
    }
}

struct Holder {
    line: Box<dyn KeyLine>,
    lease: Lease,
    clock: Clock,
    start: Moment,
    refreshed: Moment,
    /// When the key was last told to go down, until it is known to be up.
    since: Option<Moment>,
    /// Whether the line did not confirm when it was last brought up: then it is asked again, unasked, until it does.
    unconfirmed: bool,
    /// How long the key was down when it came up without the client having asked for it, until the client is told.
    untold: Duration,
}

impl Holder {
    async fn serve(mut self, mut inbox: mpsc::Receiver<(Request, oneshot::Sender<Answer>)>) -> Answer {
        loop {
            let end = if self.unconfirmed {
                Some(self.clock.now().after(ASK_AGAIN_AFTER))
            } else {
                self.lease.ends_at().map(|end| self.start.after(end))
            };
            let request = match end {
                Some(end) => tokio::select! {
                    biased;
                    () = self.clock.sleep_until(end) => None,
                    request = inbox.recv() => Some(request),
                },
                None => Some(inbox.recv().await),
            };
            match request {
                None => drop(self.bring_up_unasked().await),
                Some(None) => return Ok(self.bring_up().await? + self.untold),
                // Whoever wanted it is gone, as when the run was stopped: nothing is keyed for nobody.
                Some(Some((Request::Down(_) | Request::Beat, reply))) if reply.is_closed() => {}
                Some(Some((request, reply))) => {
                    let answer = self.answer(request).await;
                    // A client that has gone meanwhile shows as a closed inbox on the next turn.
                    drop(reply.send(answer));
                }
            }
        }
    }

    async fn answer(&mut self, request: Request) -> Answer {
        // Whatever is wanted, a line that did not confirm is up before anything else is done with it.
        if self.unconfirmed {
            self.bring_up_unasked().await?;
        }
        let now = self.now();
        match request {
            Request::Down(longest) => {
                let mut lease = self.lease;
                lease.grant(now, longest)?;
                // Whatever takes time is done before the lease begins.
                self.line.ready().await.map_err(KeyError::NotReady)?;
                self.lease.grant(self.now(), longest)?;
                let down = self.clock.now();
                (self.refreshed, self.since) = (down, Some(down));
                self.press(false).await
            }
            Request::Beat => {
                if self.lease.look(now) == Order::KeyUp {
                    self.bring_up_unasked().await?;
                }
                self.lease.beat(now)?;
                let due = self.line.refresh_every();
                if due.is_some_and(|every| self.clock.now().since(self.refreshed) >= every) {
                    self.refreshed = self.clock.now();
                    return self.press(true).await;
                }
                Ok(Duration::ZERO)
            }
            Request::Up => {
                let held = self.bring_up().await?;
                Ok(held + std::mem::take(&mut self.untold))
            }
            Request::Confirm => {
                let held = self.tell_up().await?;
                self.untold += held;
                Ok(Duration::ZERO)
            }
        }
    }

    async fn press(&mut self, again: bool) -> Answer {
        let left = self.lease.until().map_or(Duration::ZERO, |until| until.saturating_sub(self.now()));
        let told = if again { self.line.hold() } else { self.line.down() };
        let failure = match self.clock.within(left.min(DOWN_WITHIN), told).await {
            Ok(Ok(())) => {
                // The line's time is not the client's.
                self.lease.excuse(self.now());
                return Ok(Duration::ZERO);
            }
            Ok(Err(fault)) => KeyError::Line(fault),
            Err(_) => KeyError::Lease(LeaseError::NotDown),
        };
        self.bring_up_unasked().await?;
        Err(failure)
    }

    /// The client learns how long the key was down when it asks for it to be up.
    async fn bring_up_unasked(&mut self) -> Result<(), KeyError> {
        let held = self.bring_up().await?;
        self.untold += held;
        Ok(())
    }

    async fn bring_up(&mut self) -> Answer {
        if !self.lease.is_down() && !self.unconfirmed {
            return Ok(Duration::ZERO);
        }
        self.tell_up().await
    }

    /// Tells the line that the key is up until it confirms.
    async fn tell_up(&mut self) -> Answer {
        let began = self.clock.now();
        let mut pause = UP_AGAIN_AFTER;
        loop {
            let fault = match self.clock.within(ONE_UP_WITHIN, self.line.up()).await {
                Ok(Ok(())) => return Ok(self.is_up()),
                Ok(Err(fault)) => fault,
                Err(_) => InstrumentFault::Unconfirmed,
            };
            if self.clock.now().since(began) + pause > UP_TRIED_FOR {
                // The lease ends all the same: nobody may go on as if it were held.
                self.lease.release(self.now());
                self.unconfirmed = true;
                return Err(KeyError::StillDown(fault));
            }
            self.clock.sleep(pause).await;
            pause = (pause * 2).min(UP_AGAIN_AT_LATEST);
        }
    }

    /// Notes that the line has confirmed, and says how long the key was down.
    fn is_up(&mut self) -> Duration {
        if std::mem::take(&mut self.unconfirmed) {
            // Only now is it known that the unit rests.
            self.lease.rest_again(self.now());
        }
        self.lease.release(self.now());
        self.since.take().map_or(Duration::ZERO, |since| self.clock.now().since(since))
    }

    fn now(&self) -> Duration {
        self.clock.now().since(self.start)
    }
}

#[cfg(test)]
mod tests;
