//! The run's side of a key that a process of its own holds: starts it, asks it, ends it when it does not answer, and
//! starts another one that makes sure that the key is up.

use std::ffi::OsString;
use std::os::fd::OwnedFd;
use std::os::unix::process::CommandExt;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_keyholder::Terms;
use spurline_record::InstrumentUsed;
use spurline_transport::Tap;
use tokio::net::UnixStream;

use super::frame::{Arm, Ask, Asked, Frames, Line, PROTOCOL, Said, Word, not_armed};
use super::wiring::KeyWiring;
use super::{Answer, Inbox, KeyError, Last, OpenError, Request, Standing};

/// It says twice a second that it is at work: one that is silent for so long is stopped or stuck, and is ended. For a
/// control line its end drops the line.
const SILENT_AT_MOST: Duration = Duration::from_secs(2);
/// Loading a program on a busy machine takes its time, and so does connecting.
const ARMED_WITHIN: Duration = Duration::from_secs(60);
const FIRST_WORD_WITHIN: Duration = Duration::from_secs(10);
/// How long one that was told to close, or was killed, may take to be gone.
const GONE_WITHIN: Duration = Duration::from_secs(2);
const LOOK_EVERY: Duration = Duration::from_millis(5);
/// An instrument may not have seen yet that the connection of the one before is gone.
const STARTS: u32 = 4;
const START_AGAIN_AFTER: Duration = Duration::from_millis(500);

/// What is started to hold the key: a program that calls [`super::keyholder`] with its standard input.
#[derive(Clone, Debug)]
pub struct KeyProgram {
    /// The program.
    pub program: PathBuf,
    /// Its arguments.
    pub arguments: Vec<OsString>,
}

/// The run's side.
#[derive(Debug)]
pub(super) struct Remote {
    program: KeyProgram,
    wiring: KeyWiring,
    terms: Terms,
    clock: Clock,
    tap: Tap,
    running: Option<Running>,
    /// Which instrument was found first.
    used: Option<InstrumentUsed>,
    /// Since when the key may be down.
    keyed: Option<Moment>,
    /// How long the unit must rest, as of the moment, whoever holds the key.
    rests: Option<(Moment, Duration)>,
    /// How long the key was down without the client having been told.
    untold: Duration,
    /// What became of a holder that went while nobody asked it anything.
    lost: Option<KeyError>,
    badness: Badness,
}

/// A process that holds the key.
#[derive(Debug)]
struct Running {
    child: Child,
    frames: Frames,
    number: u64,
}

/// Why it did not answer.
struct Gone(String);

impl Gone {
    fn nonsense() -> Self {
        Self("it answers what it was not asked".to_owned())
    }
}

impl Running {
    async fn ask(
        &mut self,
        ask: Ask,
        (clock, tap): (Clock, &Tap),
        (silent, longest): (Duration, Duration),
    ) -> Result<(Word, Line), Gone> {
        let began = clock.now();
        let number = self.number;
        self.number += 1;
        let asked = Asked { number, ask };
        let sent = clock.within(silent, self.frames.send(&asked)).await;
        sent.map_err(|_| Gone("it does not listen".to_owned()))?.map_err(|_| self.ended())?;
        let mut patience = silent;
        loop {
            let said = match clock.within(patience, self.frames.next::<Said>()).await {
                Ok(Ok(Some(said))) => said,
                Ok(Ok(None)) => return Err(self.ended()),
                Ok(Err(error)) => return Err(Gone(format!("it cannot be understood: {error}"))),
                Err(_) => return Err(Gone(format!("it did not answer within {} s", patience.as_secs()))),
            };
            if said.number != number && !matches!(said.word, Word::Ends { .. }) {
                return Err(Gone(format!("it answers {}, and was asked {number}", said.number)));
            }
            for passed in said.passed {
                passed.note(tap).map_err(Gone)?;
            }
            match said.word {
                Word::Working => patience = SILENT_AT_MOST,
                Word::Ends { why } => return Err(Gone(format!("it ended: the run that it works for {why}"))),
                word => return Ok((word, said.line)),
            }
            if clock.now().since(began) > longest {
                return Err(Gone(format!("it did not answer within {} s", longest.as_secs())));
            }
        }
    }

    /// How it ended, in words.
    fn ended(&mut self) -> Gone {
        match self.child.try_wait() {
            Ok(Some(status)) => Gone(format!("its process ended with {status}")),
            Ok(None) | Err(_) => Gone("its process closed the line".to_owned()),
        }
    }

    /// Waits for it to be gone, and ends it if it is not.
    async fn bury(mut self, patience: Duration, clock: Clock) {
        let began = clock.now();
        // It sees the line closed, if it sees anything.
        drop(self.frames);
        let mut killed = false;
        while !matches!(self.child.try_wait(), Ok(Some(_)) | Err(_)) {
            let waited = clock.now().since(began);
            if waited >= patience && !killed {
                killed = true;
                // One that has ended meanwhile is what it should be.
                drop(self.child.kill());
            } else if waited >= patience + GONE_WITHIN {
                break;
            }
            clock.sleep(LOOK_EVERY).await;
        }
    }
}

impl Remote {
    /// Starts a process and has it make the line ready.
    pub(super) async fn start(
        program: KeyProgram,
        wiring: KeyWiring,
        terms: Terms,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, Option<InstrumentUsed>), OpenError> {
        let mut remote = Self {
            program,
            wiring,
            terms,
            clock,
            tap,
            running: None,
            used: None,
            keyed: None,
            rests: None,
            untold: Duration::ZERO,
            lost: None,
            badness: Badness::default(),
        };
        remote.used = remote.begin(false).await?;
        let used = remote.used.clone();
        Ok((remote, used))
    }

    /// One attempt at a process that has the line ready and up.
    async fn begin(&mut self, again: bool) -> Result<Option<InstrumentUsed>, OpenError> {
        let failed = |why: String| {
            OpenError::Key(KeyError::NoHolder { why, keyed: self.keyed.is_some(), confirmed: false })
        };
        let (ours, theirs) = std::os::unix::net::UnixStream::pair()
            .map_err(|error| failed(format!("there is no line to it: {error}")))?;
        let ours = ours.set_nonblocking(true).and_then(|()| UnixStream::from_std(ours));
        let ours = ours.map_err(|error| failed(format!("there is no line to it: {error}")))?;
        let child = Command::new(&self.program.program)
            .arg0("spurline")
            .args(&self.program.arguments)
            .stdin(Stdio::from(OwnedFd::from(theirs)))
            .stdout(Stdio::null())
            .spawn();
        let child = child.map_err(|error| failed(format!("its process cannot be started: {error}")))?;
        let mut running = Running { child, frames: Frames::new(ours), number: 0 };
        let arm = Arm {
            protocol: PROTOCOL,
            parent: std::process::id(),
            wiring: (&self.wiring).into(),
            longest: self.terms.longest,
            beat_within: self.terms.beat_within,
            rest: self.terms.rest,
            rest_factor: self.terms.rest_factor,
            brief: self.terms.brief,
            rest_first: self.rest_due(),
            again,
        };
        let limits = (FIRST_WORD_WITHIN, ARMED_WITHIN);
        let error = match running.ask(Ask::Arm(Box::new(arm)), (self.clock, &self.tap), limits).await {
            Ok((Word::Armed { used }, Line::Up)) if !again || used == self.used => {
                self.running = Some(running);
                return Ok(used);
            }
            Ok((Word::Armed { .. }, Line::Up)) => {
                failed("another instrument answers for the key now".to_owned())
            }
            Ok((Word::NotArmed { instrument, error }, _)) => not_armed(instrument, error),
            Ok(_) => failed(Gone::nonsense().0),
            Err(Gone(why)) => failed(why),
        };
        running.bury(GONE_WITHIN, self.clock).await;
        Err(error)
    }

    fn rest_due(&self) -> Duration {
        self.rests.map_or(Duration::ZERO, |(since, span)| {
            span.saturating_sub(self.clock.now().since(since)).max(Duration::ZERO)
        })
    }

    /// Does what is asked until nobody can ask any more, then has the key brought up and the process end.
    pub(super) async fn serve(mut self, mut inbox: Inbox, last: Last) {
        loop {
            let request = match &mut self.running {
                Some(running) => tokio::select! {
                    biased;
                    request = inbox.recv() => Some(request),
                    // It says nothing unasked: whatever comes is its end.
                    _ = running.frames.next::<Said>() => None,
                },
                None => Some(inbox.recv().await),
            };
            match request {
                None => {
                    let gone = self.running.as_mut().map_or_else(|| Gone(String::new()), Running::ended);
                    let error = self.gone(gone).await;
                    self.lost = Some(error);
                }
                Some(None) => {
                    // Whoever has let go without a word does not hear it.
                    drop(last.send(self.close().await));
                    return;
                }
                Some(Some((Request::Down(_) | Request::Beat, reply))) if reply.is_closed() => {}
                Some(Some((request, reply))) => {
                    let answer = self.answer(request).await;
                    drop(reply.send(answer));
                }
            }
        }
    }

    async fn answer(&mut self, request: Request) -> (Answer, Standing) {
        if let Some(error) = self.lost.take() {
            // Told once, to whoever asks for something that depends on it.
            match request {
                Request::Down(_) | Request::Beat => return (Err(error), Standing::Unknown),
                Request::Up | Request::Confirm if self.running.is_some() => self.lost = Some(error),
                Request::Up | Request::Confirm => {}
            }
        }
        if self.running.is_none()
            && let Err(error) = self.begin_again().await
        {
            return (Err(error), Standing::Unknown);
        }
        let ask = match request {
            Request::Down(longest) => {
                self.keyed = Some(self.clock.now());
                Ask::Down { longest }
            }
            Request::Beat => Ask::Beat,
            Request::Up => Ask::Up,
            Request::Confirm => Ask::Confirm,
        };
        let limits = (SILENT_AT_MOST, self.wiring.longest_answer());
        let running = self.running.as_mut().expect("one was begun above");
        let gone = match running.ask(ask, (self.clock, &self.tap), limits).await {
            Ok((Word::Done { held }, line)) => match self.done(request, held, line) {
                Some(answer) => return (Ok(answer), line.into()),
                None => Gone("it says that the line is otherwise than it was told".to_owned()),
            },
            Ok((Word::Failed(failure), line)) => {
                let error = KeyError::from(failure);
                if !matches!(error, KeyError::NoHolder { .. }) {
                    self.note(line);
                    return (Err(error), line.into());
                }
                Gone("its task broke off".to_owned())
            }
            Ok(_) => Gone::nonsense(),
            Err(gone) => gone,
        };
        (Err(self.gone(gone).await), Standing::Unknown)
    }

    /// What is done is what was asked, or it is not believed.
    fn done(&mut self, request: Request, held: Duration, line: Line) -> Option<Duration> {
        let as_asked = match (request, line) {
            (Request::Down(longest), Line::Down { left }) => left <= longest.min(self.terms.longest),
            (Request::Beat, Line::Down { left }) => left <= self.terms.longest,
            (Request::Up | Request::Confirm, Line::Up) => true,
            _ => false,
        };
        self.note(line);
        as_asked.then(|| match request {
            Request::Up => held + std::mem::take(&mut self.untold),
            _ => held,
        })
    }

    /// Follows how the line stands.
    fn note(&mut self, line: Line) {
        match line {
            Line::Up => self.is_up(),
            Line::Down { .. } => {
                self.keyed.get_or_insert(self.clock.now());
                self.badness.raise();
            }
            Line::Unknown => {}
        }
    }

    /// Notes that the key is up; says how long it may have been down.
    fn is_up(&mut self) {
        self.badness.restore();
        if let Some(since) = self.keyed.take() {
            let now = self.clock.now();
            let held = now.since(since);
            self.rests = Some((now, self.terms.rest.max(held * self.terms.rest_factor)));
        }
    }

    /// The process is gone or useless: it is ended, and another one makes sure that the key is up.
    async fn gone(&mut self, Gone(why): Gone) -> KeyError {
        if let Some(mut running) = self.running.take() {
            // At once: what is stopped or stuck does not see that its line is closed.
            drop(running.child.kill());
            running.bury(Duration::ZERO, self.clock).await;
        }
        let keyed = self.keyed;
        let confirmed = self.begin_again().await;
        if let Some(since) = keyed.filter(|_| confirmed.is_ok()) {
            self.untold += self.clock.now().since(since);
        }
        let why = match &confirmed {
            Ok(()) => why,
            Err(KeyError::NoHolder { why: again, .. }) => format!("{why}; and again: {again}"),
            Err(error) => format!("{why}; and again: {error}"),
        };
        KeyError::NoHolder { why, keyed: keyed.is_some(), confirmed: confirmed.is_ok() }
    }

    async fn begin_again(&mut self) -> Result<(), KeyError> {
        // Another process inherits how readily the system ends this one.
        self.badness.restore();
        let mut left = STARTS;
        // Even if it was never told to go down: only now is it known that the key is up.
        if self.keyed.is_some() {
            let most = self.terms.longest * self.terms.rest_factor;
            self.rests = Some((self.clock.now(), self.terms.rest.max(most)));
        }
        loop {
            left -= 1;
            match self.begin(true).await {
                Ok(_) => {
                    self.is_up();
                    return Ok(());
                }
                Err(error) if left == 0 => {
                    let why = match error {
                        OpenError::Key(KeyError::NoHolder { why, .. }) => why,
                        OpenError::Key(error) => error.to_string(),
                        OpenError::Instrument(fault) => fault.to_string(),
                    };
                    return Err(KeyError::NoHolder { why, keyed: self.keyed.is_some(), confirmed: false });
                }
                Err(_) => self.clock.sleep(START_AGAIN_AFTER).await,
            }
        }
    }

    /// Key up as the last word, and the process ends.
    async fn close(mut self) -> Answer {
        // A holder that went while nobody asked was replaced, and its key is up.
        self.lost = None;
        if self.running.is_none() {
            self.begin_again().await?;
        }
        let limits = (SILENT_AT_MOST, self.wiring.longest_answer());
        let running = self.running.as_mut().expect("one was begun above");
        match running.ask(Ask::Close, (self.clock, &self.tap), limits).await {
            Ok((Word::Done { held }, Line::Up)) => {
                self.is_up();
                if let Some(running) = self.running.take() {
                    running.bury(GONE_WITHIN, self.clock).await;
                }
                Ok(held + self.untold)
            }
            Ok((Word::Failed(failure), _)) => {
                // It goes on trying by itself, also when this process has ended.
                self.badness.restore();
                Err(failure.into())
            }
            other => match self.gone(other.err().unwrap_or_else(Gone::nonsense)).await {
                // Another one has it, and has made sure.
                KeyError::NoHolder { confirmed: true, .. } => {
                    if let Some(running) = self.running.take() {
                        running.bury(GONE_WITHIN, self.clock).await;
                    }
                    Ok(self.untold)
                }
                error => Err(error),
            },
        }
    }
}

/// How readily the system ends this process when memory is short: rather this one, while the key is down, than the one
/// that holds the key. Where it cannot be said, all stays as it is.
#[derive(Debug, Default)]
struct Badness {
    before: Option<String>,
}

const BADNESS: &str = "/proc/self/oom_score_adj";
/// Of a range from -1000 to 1000.
const RAISED: i32 = 500;

impl Badness {
    fn raise(&mut self) {
        if self.before.is_some() {
            return;
        }
        let Ok(before) = std::fs::read_to_string(BADNESS) else { return };
        let lower = before.trim().parse::<i32>().is_ok_and(|value| value < RAISED);
        if lower && std::fs::write(BADNESS, RAISED.to_string()).is_ok() {
            self.before = Some(before);
        }
    }

    fn restore(&mut self) {
        if let Some(before) = self.before.take() {
            // One that may not is ended more readily than it was, which harms nobody.
            drop(std::fs::write(BADNESS, before.trim()));
        }
    }
}
