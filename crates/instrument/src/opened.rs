//! Opening an instrument: connect, ask who it is, compare with what the bench file says.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{self as spelled, Kind, Messages, Profile, Spelling};
use spurline_record::{Identity, InstrumentUsed, Role};
use spurline_scpi::{Message, Unit};
use spurline_transport::{
    Address, AnswersEnd, LinkSettings, Manners, SerialLine, Session, SessionError, State, Tap, Terminator,
};

use crate::error::InstrumentFault;

/// Where an instrument answers, how it is spoken to, and which one it must be.
#[derive(Clone, Copy, Debug)]
pub struct Whereabouts<'a> {
    /// Where.
    pub address: &'a Address,
    /// How.
    pub profile: &'a Profile,
    /// How the serial line is set, if the address is one.
    pub line: SerialLine,
    /// The serial number that it must have.
    pub serial: Option<&'a str>,
}

/// The session's manners from a profile.
fn manners(messages: &Messages) -> Manners {
    Manners {
        longest: messages.longest,
        compound: messages.compound,
        power_on_bit: messages.power_on_bit,
        answer_within: messages.answer_within.duration(),
    }
}

/// What a read-back may differ from what was told, as a share, and still be the same setting.
const DISPLAY_DIGITS: f64 = 1e-3;
/// How often a group of commands and queries is repeated while the link stays.
pub(crate) const REPEATS: u32 = 2;
/// Before a group is repeated because of what the instrument said, it is left alone for so long: some answer faster
/// than they carry out what they were told.
const LEFT_ALONE: Duration = Duration::from_millis(500);

/// Does a group of commands and queries, and does it again when the exchange was disturbed. Only for groups that may
/// be done twice: settings from the root, then the sweep, then the questions; never anything that keys.
macro_rules! repeated {
    ($opened:expr, $group:expr) => {{
        let mut left = crate::opened::REPEATS;
        loop {
            match $group.await {
                Err(fault) => $opened.again(fault, &mut left).await?,
                Ok(done) => break Ok(done),
            }
        }
    }};
}
pub(crate) use repeated;

/// What the link must know, from a profile and the bench.
pub(crate) fn settings(messages: &Messages, line: SerialLine) -> LinkSettings {
    LinkSettings {
        terminator: match messages.terminator {
            spelled::Terminator::Lf => Terminator::Lf,
            spelled::Terminator::CrLf => Terminator::CrLf,
            spelled::Terminator::Cr => Terminator::Cr,
        },
        answers_end: match messages.answers_end {
            spelled::AnswersEnd::Terminator => AnswersEnd::Terminator,
            spelled::AnswersEnd::Silence(quiet) => AnswersEnd::Silence(quiet.duration()),
        },
        pause: messages.pause.duration(),
        echo: messages.echo,
        prompt: messages.prompt.clone(),
        connect_within: messages.connect_within.duration(),
        line,
    }
}

/// A session with its role, and the questions that all handles share.
#[derive(Debug)]
pub(crate) struct Opened {
    role: Role,
    session: Session,
    clock: Clock,
    /// What was asked last, and for how much work.
    last: (Message, Duration),
    /// Whether the instrument may have lost its settings.
    unset: bool,
}

impl Opened {
    async fn open(
        role: Role,
        place: Whereabouts<'_>,
        clock: Clock,
        tap: Tap,
    ) -> Result<(Self, InstrumentUsed), InstrumentFault> {
        let manners = manners(&place.profile.messages);
        let settings = settings(&place.profile.messages, place.line);
        let (session, found) = Session::open(role.name(), place.address, &settings, manners, clock, tap)
            .await
            .map_err(InstrumentFault::session(role))?;
        let identity = Identity {
            maker: found.maker,
            model: found.model,
            serial: found.serial,
            firmware: found.firmware,
        };
        if let Some(pinned) = place.serial.filter(|pinned| *pinned != identity.serial) {
            return Err(InstrumentFault::WrongInstrument {
                role,
                address: place.address.to_string(),
                pinned: pinned.to_owned(),
                found: identity.serial,
            });
        }
        let used = InstrumentUsed {
            role,
            address: place.address.to_string(),
            profile: place.profile.source.name().to_owned(),
            identity,
        };
        Ok((Self { role, session, clock, last: Default::default(), unset: false }, used))
    }

    /// Opens an instrument whose profile must be of one kind; `of_kind` picks it out.
    pub(crate) async fn open_as<P: Clone>(
        role: Role,
        place: Whereabouts<'_>,
        clock: Clock,
        tap: Tap,
        of_kind: impl FnOnce(&Kind) -> Option<&P>,
    ) -> Result<(Self, P, InstrumentUsed), InstrumentFault> {
        let kind = &place.profile.kind;
        let wrong = InstrumentFault::WrongProfile { role, found: kind.word() };
        let profile = of_kind(kind).ok_or(wrong)?.clone();
        let (opened, used) = Self::open(role, place, clock, tap).await?;
        Ok((opened, profile, used))
    }

    pub(crate) fn role(&self) -> Role {
        self.role
    }

    /// Sends the spelled commands and queries as one message and gives back one unit per query.
    pub(crate) async fn ask(
        &mut self,
        spelled: &[String],
        work: Duration,
    ) -> Result<Vec<Unit>, InstrumentFault> {
        self.last = (self.message(spelled)?, work);
        let answered = self.session.ask(&self.last.0, work).await;
        self.answered(answered)
    }

    /// The same, at once or not at all.
    pub(crate) async fn ask_now(&mut self, spelled: &[String]) -> Result<Vec<Unit>, InstrumentFault> {
        let message = self.message(spelled)?;
        let answered = self.session.ask_now(&message, Duration::ZERO).await;
        self.answered(answered)
    }

    /// Notes what an answer tells beside its content.
    fn answered(&mut self, answered: Result<Vec<Unit>, SessionError>) -> Result<Vec<Unit>, InstrumentFault> {
        self.unset |= matches!(answered, Err(SessionError::PowerCycled { .. }));
        answered.map_err(InstrumentFault::session(self.role))
    }

    /// Sends commands over whatever link there is, and waits for nothing.
    pub(crate) async fn tell_anyway(&mut self, spelled: &[String]) -> Result<(), InstrumentFault> {
        let message = self.message(spelled)?;
        self.session.tell_anyway(&message).await.map_err(InstrumentFault::session(self.role))
    }

    fn message(&self, spelled: &[String]) -> Result<Message, InstrumentFault> {
        let message = spelled.iter().try_fold(Message::new(), |message, text| message.compound(text));
        message.map_err(|error| InstrumentFault::session(self.role)(error.into()))
    }

    /// Makes ready for another attempt at a group after `fault`.
    ///
    /// # Errors
    ///
    /// The fault, if no attempt is `left` or none would help; or why the link does not come back into step.
    pub(crate) async fn again(
        &mut self,
        fault: InstrumentFault,
        left: &mut u32,
    ) -> Result<(), InstrumentFault> {
        if *left == 0 || !fault.is_in_the_exchange() {
            return Err(fault);
        }
        *left -= 1;
        if let InstrumentFault::Session { source, .. } = &fault {
            let (asked, work) = &self.last;
            match self.session.recover(source, asked, *work).await {
                // What made the link fall out of step says more than that it did not come back.
                Err(SessionError::OutOfStep { .. }) => Err(fault),
                recovered => recovered.map_err(InstrumentFault::session(self.role)),
            }
        } else {
            self.clock.sleep(LEFT_ALONE).await;
            Ok(())
        }
    }

    /// Whether the next answer would belong to the next question.
    pub(crate) fn is_ready(&self) -> bool {
        self.session.state() == State::Ready
    }

    /// Whether the next answer would belong to the next question, looked at closely.
    pub(crate) async fn is_in_step(&mut self) -> bool {
        self.session.is_in_step().await
    }

    /// Asks something that every instrument answers: whether the link is alive, and the instrument the one that was
    /// set up.
    pub(crate) async fn check(&mut self) -> Result<(), InstrumentFault> {
        self.ask(&["*OPC?".to_owned()], Duration::ZERO).await.map(drop)
    }

    /// Makes the link again if it is not in order. Says whether everything must be set up anew.
    pub(crate) async fn mend(&mut self, patience: Duration) -> Result<bool, InstrumentFault> {
        // One that looks well may have died, or been switched off and on, while nobody asked it anything.
        let checked = if self.is_ready() { self.check().await } else { Ok(()) };
        let power_cycled = matches!(
            &checked,
            Err(InstrumentFault::Session { source: SessionError::PowerCycled { .. }, .. })
        );
        if !self.is_ready() || (checked.is_err() && !power_cycled) {
            self.reopen(patience).await?;
        }
        Ok(self.unset)
    }

    /// Makes the link again.
    pub(crate) async fn reopen(&mut self, patience: Duration) -> Result<(), InstrumentFault> {
        self.session.reopen(patience).await.map_err(InstrumentFault::session(self.role))?;
        self.unset = true;
        Ok(())
    }

    /// Everything has been set up anew.
    pub(crate) fn is_set_up(&mut self) {
        self.unset = false;
    }

    /// Sends one spelling without a value.
    pub(crate) async fn plain(
        &mut self,
        spelling: &Spelling,
        work: Duration,
    ) -> Result<Vec<Unit>, InstrumentFault> {
        self.ask(&[spelling.plain().to_owned()], work).await
    }

    /// That a setting is as it was told to be, up to the digits that the instrument shows.
    pub(crate) fn taken(
        &self,
        units: &[Unit],
        at: usize,
        setting: &'static str,
        told: f64,
    ) -> Result<(), InstrumentFault> {
        let found = self.number(units, at, setting)?;
        let same = (found - told).abs() <= DISPLAY_DIGITS * told.abs() + 1e-9;
        if same { Ok(()) } else { Err(self.not_taken(setting, told, found)) }
    }

    pub(crate) fn not_taken(
        &self,
        setting: &'static str,
        told: impl ToString,
        found: impl ToString,
    ) -> InstrumentFault {
        InstrumentFault::NotTaken {
            role: self.role,
            setting,
            told: told.to_string(),
            found: found.to_string(),
        }
    }

    /// A finite number from an answer.
    pub(crate) fn number(
        &self,
        units: &[Unit],
        at: usize,
        what: &'static str,
    ) -> Result<f64, InstrumentFault> {
        let unit = units.get(at).ok_or(InstrumentFault::NotANumber { role: self.role, what })?;
        let number = unit.number().map_err(InstrumentFault::answer(self.role, what))?;
        number.finite().ok_or(InstrumentFault::NotANumber { role: self.role, what })
    }
}
