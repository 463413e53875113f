//! The key on leases: a task of its own, or a process of its own, holds the line and brings it up whatever becomes of
//! its client.

mod cause;
mod command;
mod control;
mod frame;
mod holder;
mod process;
mod remote;
mod wiring;

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use async_trait::async_trait;
use spurline_clock::{Clock, Moment};
use spurline_keyholder::{LeaseError, Terms};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use thiserror::Error;
use tokio::sync::{mpsc, oneshot};

use crate::error::InstrumentFault;
pub(crate) use cause::Cause;
pub use command::KeyCommands;
pub use control::{ControlLine, ControlWire, PORTS_BY_ID};
use holder::Holder;
pub use process::{KeyholderError, keyholder};
pub use remote::KeyProgram;
pub use wiring::{KeyRelay, KeySupply, KeyWiring};

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
    /// This program did not run for so long that the key came up; it is up.
    #[error("the key came up: this program did not run for {:.1} s, or waited so long for the disk", .0.as_secs_f64())]
    Stalled(Duration),
    /// The task or the process that held the key is gone.
    #[error("nobody holds the key any more: {why}")]
    NoHolder {
        /// What became of it.
        why: String,
        /// Whether the key may have been down then.
        keyed: bool,
        /// Whether another one has made sure since that the key is up, and holds it now.
        confirmed: bool,
    },
}

/// Why nobody holds the key.
#[derive(Debug, Error)]
pub enum OpenError {
    /// The instrument of the key does not answer as it should.
    #[error("the instrument of the key does not answer as it should")]
    Instrument(#[source] InstrumentFault),
    /// The key itself.
    #[error("the key cannot be held")]
    Key(#[source] KeyError),
}

impl KeyError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<&str> {
        match self {
            Self::StillDown(_) | Self::NoHolder { confirmed: false, .. } => {
                Some("switch the unit's supply off by hand now")
            }
            Self::NoHolder { confirmed: true, .. } => Some(
                "the key was brought up anew. Did somebody, or a machine short of memory, end the process that holds it?",
            ),
            Self::NotReady(fault) | Self::Line(fault) | Self::ConfirmedLate(fault) => fault.advice(),
            Self::Lease(LeaseError::TooLong { .. }) => {
                Some("raise `key: longest` in the plan if the unit can bear it")
            }
            Self::Lease(LeaseError::NotDown) => Some(
                "the key came up by itself: the relay, or this machine, was too slow to say in time that it is still \
                 wanted",
            ),
            Self::Stalled(_) => {
                Some("is this machine overloaded, or was it asleep? Is the record on a slow disk?")
            }
            Self::Lease(_) => None,
        }
    }

    /// Whether a key-down was refused before the line was told anything: the unit was not keyed.
    #[must_use]
    pub fn is_before_it_was_told(&self) -> bool {
        matches!(
            self,
            Self::NotReady(_)
                | Self::NoHolder { keyed: false, .. }
                | Self::Lease(LeaseError::TooLong { .. } | LeaseError::AlreadyDown | LeaseError::Resting(_))
        )
    }

    /// Whether the transmitter may be keyed still, after everything was tried that brings the key up.
    #[must_use]
    pub fn is_still_down(&self) -> bool {
        matches!(self, Self::StillDown(_) | Self::NoHolder { keyed: true, confirmed: false, .. })
    }

    /// Which instrument it was; `None` if the key line is none.
    #[must_use]
    pub fn role(&self) -> Option<Role> {
        match self {
            Self::NotReady(fault)
            | Self::Line(fault)
            | Self::StillDown(fault)
            | Self::ConfirmedLate(fault) => (!fault.is_of_the_key_line()).then(|| fault.role()),
            Self::Lease(_) | Self::Stalled(_) | Self::NoHolder { .. } => None,
        }
    }
}

/// How the line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Standing {
    Up,
    /// On a lease that ends by itself after so long.
    Down {
        left: Duration,
    },
    /// Told to be up, and not confirmed.
    Unknown,
}

#[derive(Clone, Copy, Debug)]
enum Request {
    Down(Duration),
    Confirm,
    Beat,
    Up,
}

type Answer = Result<Duration, KeyError>;
type Reply = (Answer, Standing);
type Last = oneshot::Sender<Answer>;
type Inbox = mpsc::Receiver<(Request, oneshot::Sender<Reply>)>;

/// The client's end. Dropping it brings the key up.
#[derive(Debug)]
pub struct KeyHandle {
    requests: mpsc::Sender<(Request, oneshot::Sender<Reply>)>,
    /// What comes of closing.
    last: oneshot::Receiver<Answer>,
    told: Told,
}

/// When the holder last heard that the key is wanted, as the client knows it.
#[derive(Debug)]
struct Told {
    clock: Clock,
    within: Duration,
    last: Mutex<Moment>,
}

impl Told {
    fn new(clock: Clock, terms: Terms) -> Self {
        Self { clock, within: terms.beat_within, last: Mutex::new(clock.now()) }
    }

    fn now(&self) {
        *self.last.lock().unwrap_or_else(PoisonError::into_inner) = self.clock.now();
    }

    /// How long it has heard nothing, if that is too long.
    fn silent(&self) -> Option<Duration> {
        let last = *self.last.lock().unwrap_or_else(PoisonError::into_inner);
        let silent = self.clock.now().since(last);
        (silent > self.within).then_some(silent)
    }
}

impl KeyHandle {
    /// Opens the line, makes it ready and has it held: by a process of its own if there is a program for it, else by a
    /// task beside this one. Says which instrument was found, if the line is behind one.
    ///
    /// # Errors
    ///
    /// [`OpenError`]; nothing was keyed.
    pub async fn open(
        wiring: KeyWiring,
        terms: Terms,
        program: Option<&KeyProgram>,
        clock: Clock,
        tap: &Tap,
    ) -> Result<(Self, Option<InstrumentUsed>), OpenError> {
        if let Some(program) = program {
            let (remote, used) =
                remote::Remote::start(program.clone(), wiring, terms, clock, tap.clone()).await?;
            let told = Told::new(clock, terms);
            return Ok((Self::served(told, |inbox, last| remote.serve(inbox, last)), used));
        }
        let (line, used) = wiring.open(clock, tap).await.map_err(OpenError::Instrument)?;
        let key = Self::hold(line, terms, clock).await.map_err(OpenError::Key)?;
        Ok((key, used))
    }

    /// Makes the line ready and hands it to a task of its own.
    ///
    /// # Errors
    ///
    /// [`KeyError::Line`] if the line cannot be made ready.
    pub async fn hold(line: Box<dyn KeyLine>, terms: Terms, clock: Clock) -> Result<Self, KeyError> {
        Self::hold_resting(line, terms, Duration::ZERO, clock).await
    }

    /// The same for a unit that must rest for `rest` before it is keyed.
    async fn hold_resting(
        mut line: Box<dyn KeyLine>,
        terms: Terms,
        rest: Duration,
        clock: Clock,
    ) -> Result<Self, KeyError> {
        line.arm().await.map_err(KeyError::Line)?;
        let holder = Holder::new(line, terms, rest, clock);
        Ok(Self::served(Told::new(clock, terms), |inbox, last| holder.serve(inbox, last)))
    }

    fn served<F: Future<Output = ()> + Send + 'static>(
        told: Told,
        serve: impl FnOnce(Inbox, Last) -> F,
    ) -> Self {
        // One request at a time: the client waits for each answer.
        let (requests, inbox) = mpsc::channel(1);
        let (closed, last) = oneshot::channel();
        // It ends by itself once nobody asks and the key is up.
        drop(tokio::spawn(serve(inbox, closed)));
        Self { requests, last, told }
    }

    /// Key down on a lease of at most `longest`.
    ///
    /// # Errors
    ///
    /// [`KeyError`]; the key is then up.
    pub async fn down(&self, longest: Duration) -> Result<(), KeyError> {
        let down = self.request(Request::Down(longest)).await;
        self.told.now();
        down.map(drop)
    }

    /// Says that the client is alive and still wants the key down.
    ///
    /// # Errors
    ///
    /// [`KeyError`] if the key has come up meanwhile.
    pub async fn beat(&self) -> Result<(), KeyError> {
        let silent = self.told.silent();
        let beat = self.request(Request::Beat).await;
        self.told.now();
        match (beat, silent) {
            (Err(KeyError::Lease(LeaseError::NotDown)), Some(silent)) => Err(KeyError::Stalled(silent)),
            (beat, _) => beat.map(drop),
        }
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
        self.last.await.unwrap_or_else(|_| Err(KeyError::task_gone()))
    }

    async fn request(&self, request: Request) -> Answer {
        self.ask(request).await.0
    }

    /// A request and, beside its answer, how the line stands after it.
    async fn ask(&self, request: Request) -> Reply {
        let gone = || (Err(KeyError::task_gone()), Standing::Unknown);
        let (reply, answer) = oneshot::channel();
        if self.requests.send((request, reply)).await.is_err() {
            return gone();
        }
        answer.await.unwrap_or_else(|_| gone())
    }
}

impl KeyError {
    fn task_gone() -> Self {
        Self::NoHolder { why: "its task broke off".to_owned(), keyed: true, confirmed: false }
    }
}

#[cfg(test)]
mod tests;
