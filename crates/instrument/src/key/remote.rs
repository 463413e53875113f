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
/// How often it is tried to have another one hold the key before it is said that nobody does: an instrument may not have
/// seen yet that the connection of the one before is gone.
const ATTEMPTS: u32 = 4;
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
    /// One that could not make the line ready yet, and goes on trying by itself.
    trying: Option<Running>,
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

/// What became of making the line ready: who holds it, by which instrument; or why nobody does, and who goes on trying.
type Tried = Result<(Running, Option<InstrumentUsed>), (OpenError, Option<Running>)>;

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
        let number = self.number;
        self.number += 1;
        let asked = Asked { number, ask };
        let sent = clock.within(silent, self.frames.send(&asked)).await;
        sent.map_err(|_| Gone("it does not listen".to_owned()))?.map_err(|_| self.ended())?;
        self.answer(number, (clock, tap), (silent, longest)).await
    }

    /// What comes to the ask of a number.
    async fn answer(
        &mut self,
        number: u64,
        (clock, tap): (Clock, &Tap),
        (silent, longest): (Duration, Duration),
    ) -> Result<(Word, Line), Gone> {
        let began = clock.now();
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
            trying: None,
            used: None,
            keyed: None,
            rests: None,
            untold: Duration::ZERO,
            lost: None,
            badness: Badness::default(),
        };
        let running = remote.spawn()?;
        let (running, used) = remote.arm(running, false).await.map_err(|(error, _)| error)?;
        (remote.running, remote.used) = (Some(running), used.clone());
        Ok((remote, used))
    }

    fn nobody(&self, why: String) -> OpenError {
        OpenError::Key(KeyError::NoHolder { why, keyed: self.keyed.is_some(), confirmed: false })
    }

    /// A process that was not asked for anything yet.
    fn spawn(&self) -> Result<Running, OpenError> {
        let failed = |why: String| self.nobody(why);
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
        Ok(Running { child, frames: Frames::new(ours), number: 0 })
    }

    /// Has a process make the line ready. One that follows another is given back if it goes on trying; any other is
    /// gone.
    async fn arm(&self, mut running: Running, again: bool) -> Tried {
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
        let said = running.ask(Ask::Arm(Box::new(arm)), (self.clock, &self.tap), limits).await;
        self.armed(running, said, again).await
    }

    /// What a process made of the line.
    async fn armed(&self, running: Running, said: Result<(Word, Line), Gone>, again: bool) -> Tried {
        let error = match said {
            Ok((Word::Armed { used }, Line::Up)) if !again || used == self.used => {
                return Ok((running, used));
            }
            Ok((Word::Armed { .. }, Line::Up)) => {
                self.nobody("another instrument answers for the key now".to_owned())
            }
            Ok((Word::NotArmed { instrument, error }, _)) if again => {
                return Err((not_armed(instrument, error), Some(running)));
            }
            Ok((Word::NotArmed { instrument, error }, _)) => not_armed(instrument, error),
            Ok(_) => self.nobody(Gone::nonsense().0),
            Err(Gone(why)) => self.nobody(why),
        };
        running.bury(GONE_WITHIN, self.clock).await;
        Err((error, None))
    }

    /// The next word of one that goes on trying.
    async fn next_try(&self, mut running: Running) -> Tried {
        let limits = (SILENT_AT_MOST, ARMED_WITHIN);
        let said = running.answer(0, (self.clock, &self.tap), limits).await;
        self.armed(running, said, true).await
    }

    /// Notes who holds the line now, with the key up, or who goes on trying.
    fn took(&mut self, tried: Tried) -> Result<(), OpenError> {
        match tried {
            Ok((running, _)) => {
                if let Some(since) = self.keyed {
                    self.untold += self.clock.now().since(since);
                }
                self.running = Some(running);
                self.is_up();
                if let Some(KeyError::NoHolder { confirmed, .. }) = &mut self.lost {
                    *confirmed = true;
                }
                Ok(())
            }
            Err((error, trying)) => {
                self.trying = trying;
                Err(error)
            }
        }
    }

    fn rest_due(&self) -> Duration {
        self.rests.map_or(Duration::ZERO, |(since, span)| {
            span.saturating_sub(self.clock.now().since(since)).max(Duration::ZERO)
        })
    }

    /// Does what is asked until nobody can ask any more, then has the key brought up and the process end.
    pub(super) async fn serve(mut self, mut inbox: Inbox, last: Last) {
        loop {
            let request = match (&mut self.running, &mut self.trying) {
                (Some(running), _) => tokio::select! {
                    biased;
                    request = inbox.recv() => Some(request),
                    // It says nothing unasked: whatever comes is its end.
                    _ = running.frames.next::<Said>() => None,
                },
                (None, Some(trying)) => tokio::select! {
                    biased;
                    request = inbox.recv() => Some(request),
                    said = trying.answer(0, (self.clock, &self.tap), (SILENT_AT_MOST, ARMED_WITHIN)) => {
                        let trying = self.trying.take().expect("it has just said something");
                        let tried = self.armed(trying, said, true).await;
                        // Whoever asks for something hears of a failure.
                        drop(self.took(tried));
                        continue;
                    }
                },
                (None, None) => Some(inbox.recv().await),
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
        let mut left = ATTEMPTS;
        // Even if it was never told to go down: only now is it known that the key is up.
        if self.keyed.is_some() {
            let most = self.terms.longest * self.terms.rest_factor;
            self.rests = Some((self.clock.now(), self.terms.rest.max(most)));
        }
        loop {
            left -= 1;
            let tried = match self.trying.take() {
                Some(trying) => self.next_try(trying).await,
                None => match self.spawn() {
                    Ok(running) => self.arm(running, true).await,
                    Err(error) => Err((error, None)),
                },
            };
            match self.took(tried) {
                Ok(()) => return Ok(()),
                Err(error) if left == 0 => {
                    let why = match error {
                        OpenError::Key(KeyError::NoHolder { why, .. }) => why,
                        OpenError::Key(error) => error.to_string(),
                        OpenError::Instrument(fault) => fault.to_string(),
                    };
                    return Err(KeyError::NoHolder { why, keyed: self.keyed.is_some(), confirmed: false });
                }
                Err(_) if self.trying.is_some() => {}
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
