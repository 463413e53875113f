//! The one state machine that holds a key line: requests in, the line told, key up whatever becomes of the client.
//!
//! It runs as a task beside its client, or in a process of its own; it does not know which.

use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_keyholder::{Lease, LeaseError, Order, Terms};
use tokio::sync::{mpsc, oneshot};

use super::{Answer, KeyError, KeyLine, Reply, Request, Standing};
use crate::error::InstrumentFault;

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

pub(super) struct Holder {
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
    /// Holds a line that is armed, for a unit that must rest for `rest` before it is keyed.
    pub(super) fn new(line: Box<dyn KeyLine>, terms: Terms, rest: Duration, clock: Clock) -> Self {
        let start = clock.now();
        let mut lease = Lease::new(terms);
        lease.rest_for(Duration::ZERO, rest);
        Self {
            line,
            lease,
            clock,
            start,
            refreshed: start,
            since: None,
            unconfirmed: false,
            untold: Duration::ZERO,
        }
    }

    pub(super) async fn serve(
        mut self,
        mut inbox: mpsc::Receiver<(Request, oneshot::Sender<Reply>)>,
    ) -> Answer {
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
                    drop(reply.send((answer, self.standing())));
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

    /// How the line stands.
    fn standing(&self) -> Standing {
        let left = self.lease.until().map_or(Duration::ZERO, |until| until.saturating_sub(self.now()));
        match (self.unconfirmed, self.lease.is_down()) {
            (true, _) => Standing::Unknown,
            (false, true) => Standing::Down { left },
            (false, false) => Standing::Up,
        }
    }

    fn now(&self) -> Duration {
        self.clock.now().since(self.start)
    }
}
