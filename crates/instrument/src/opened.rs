//! Opening an instrument: connect, ask who it is, compare with what the bench file says.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_profile::{self as spelled, Kind, Messages, Profile, Spelling};
use spurline_record::{Identity, InstrumentUsed, Role};
use spurline_scpi::{Message, Unit};
use spurline_transport::{Address, AnswersEnd, LinkSettings, Manners, SerialLine, Session, Tap, Terminator};

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
        answer_within: messages.answer_within.duration(),
    }
}

/// What the link must know, from a profile and the bench.
fn settings(messages: &Messages, line: SerialLine) -> LinkSettings {
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
        Ok((Self { role, session }, used))
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
        let mut message = Message::new();
        for text in spelled {
            message =
                message.compound(text).map_err(|error| InstrumentFault::session(self.role)(error.into()))?;
        }
        self.session.ask(&message, work).await.map_err(InstrumentFault::session(self.role))
    }

    /// Sends one spelling without a value.
    pub(crate) async fn plain(
        &mut self,
        spelling: &Spelling,
        work: Duration,
    ) -> Result<Vec<Unit>, InstrumentFault> {
        self.ask(&[spelling.plain().to_owned()], work).await
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
