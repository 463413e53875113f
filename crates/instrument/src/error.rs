//! What can go wrong between a request and a reading.

use std::io;
use std::time::Duration;

use spurline_record::Role;
use spurline_scpi::ReadError;
use spurline_transport::SessionError;
use thiserror::Error;

use crate::key::Cause;

/// The levels in dBm that a trace can show; a float that was read in the wrong order of bytes is hardly one of them.
pub(crate) const LEVELS: std::ops::RangeInclusive<f32> = -300.0..=100.0;

/// Why an instrument did not do what it was asked.
#[derive(Debug, Error)]
pub enum InstrumentFault {
    /// The conversation failed.
    #[error("the {role} did not do what it was asked")]
    Session {
        /// Which.
        role: Role,
        /// Why.
        #[source]
        source: SessionError,
    },
    /// Another instrument answers than the bench file pins.
    #[error("expected the {role} with serial number `{pinned}` at {address}, found `{found}`")]
    WrongInstrument {
        /// Which.
        role: Role,
        /// Where.
        address: String,
        /// What the bench file says.
        pinned: String,
        /// Who answers.
        found: String,
    },
    /// The profile is of another kind of instrument.
    #[error("expected a profile of kind `{role}`, found one of kind `{found}`")]
    WrongProfile {
        /// Which.
        role: Role,
        /// The profile's kind.
        found: &'static str,
    },
    /// A setting was not taken.
    #[error("the {role} was told {setting} {told}, and says that it is {found}")]
    NotTaken {
        /// Which.
        role: Role,
        /// Which setting.
        setting: &'static str,
        /// What it was told.
        told: String,
        /// What it says.
        found: String,
    },
    /// A contact is not where it was told to be.
    #[error("the {role} was told to {} contact {contact}, and it is {}", if *.closed { "close" } else { "open" }, if *.closed { "open" } else { "closed" })]
    Contact {
        /// Which.
        role: Role,
        /// The contact.
        contact: u32,
        /// Whether it should be closed.
        closed: bool,
    },
    /// There is more than the instrument can measure.
    #[error("the {role} says that it is over its range")]
    OverRange {
        /// Which.
        role: Role,
    },
    /// The relay of the key did not confirm in time.
    #[error("the relay did not confirm in time")]
    Unconfirmed,
    /// The port of a key line failed.
    #[error("the key line at {path} {what}")]
    KeyPort {
        /// Where.
        path: String,
        /// What it did, behind its name.
        what: String,
        /// Why, where the system says.
        #[source]
        source: Option<io::Error>,
    },
    /// The port of a key line vanished as soon as the transmitter was keyed.
    #[error("the key line at {path} vanished {:.2} s after key down", .after.as_secs_f64())]
    KeyVanished {
        /// Where.
        path: String,
        /// How long after it was told to go down.
        after: Duration,
        /// How it showed.
        #[source]
        source: io::Error,
    },
    /// A command that keys did not do what it should.
    #[error("`{command}` {what}")]
    KeyCommand {
        /// The command.
        command: String,
        /// What it did.
        what: String,
        /// Why, where the system says.
        #[source]
        source: Option<io::Error>,
    },
    /// What the process that holds the key says of its instrument.
    #[error("{message}")]
    Told {
        /// Which instrument.
        role: Role,
        /// In its own words.
        message: String,
        /// Why.
        #[source]
        source: Option<Cause>,
        /// What to do about it.
        advice: Option<String>,
        /// Whether the same may succeed once the link has been made again.
        of_the_link: bool,
        /// Whether it is the line itself rather than an instrument.
        of_the_key_line: bool,
    },
    /// A trace has another number of points than was asked for.
    #[error("expected a trace of {asked} points, found {found}")]
    Points {
        /// What was asked for.
        asked: u32,
        /// What came.
        found: usize,
    },
    /// A trace has a level that no analyser shows.
    #[error("expected levels from {} dBm to {} dBm in a trace, found {found:e} dBm", LEVELS.start(), LEVELS.end())]
    Level {
        /// The first such level.
        found: f32,
    },
    /// The instrument gave something that is not a number.
    #[error("the {role} gave no number for {what}")]
    NotANumber {
        /// Which.
        role: Role,
        /// For what.
        what: &'static str,
    },
}

impl InstrumentFault {
    pub(crate) fn session(role: Role) -> impl Fn(SessionError) -> Self {
        move |source| Self::Session { role, source }
    }

    pub(crate) fn answer(role: Role, asked: &str) -> impl Fn(ReadError) -> Self {
        move |source| Self::Session {
            role,
            source: SessionError::Answer { name: role.name().to_owned(), asked: asked.to_owned(), source },
        }
    }

    /// Which instrument it was.
    #[must_use]
    pub fn role(&self) -> Role {
        match self {
            Self::Session { role, .. }
            | Self::WrongInstrument { role, .. }
            | Self::WrongProfile { role, .. }
            | Self::NotTaken { role, .. }
            | Self::Contact { role, .. }
            | Self::OverRange { role }
            | Self::NotANumber { role, .. }
            | Self::Told { role, .. } => *role,
            Self::Points { .. } | Self::Level { .. } => Role::Analyser,
            Self::Unconfirmed | Self::KeyPort { .. } | Self::KeyVanished { .. } | Self::KeyCommand { .. } => {
                Role::Relay
            }
        }
    }

    /// Whether the exchange alone was disturbed: the same may be asked again over the same link.
    pub(crate) fn is_in_the_exchange(&self) -> bool {
        match self {
            Self::Session { source, .. } => source.is_in_the_exchange(),
            Self::NotTaken { .. }
            | Self::Points { .. }
            | Self::Level { .. }
            | Self::OverRange { .. }
            | Self::NotANumber { .. } => true,
            Self::Contact { .. }
            | Self::Unconfirmed
            | Self::KeyPort { .. }
            | Self::KeyVanished { .. }
            | Self::KeyCommand { .. }
            | Self::Told { .. }
            | Self::WrongInstrument { .. }
            | Self::WrongProfile { .. } => false,
        }
    }

    /// Whether the same may succeed once the link has been made again and the instrument set up anew.
    #[must_use]
    pub fn is_of_the_link(&self) -> bool {
        match self {
            Self::Session { source, .. } => source.is_of_the_link(),
            Self::Told { of_the_link, .. } => *of_the_link,
            Self::KeyPort { .. } => true,
            _ => false,
        }
    }

    /// Whether it is a key line that is no instrument.
    #[must_use]
    pub fn is_of_the_key_line(&self) -> bool {
        match self {
            Self::KeyPort { .. } | Self::KeyVanished { .. } | Self::KeyCommand { .. } => true,
            Self::Told { of_the_key_line, .. } => *of_the_key_line,
            _ => false,
        }
    }

    /// What to do about it, where that is known.
    #[must_use]
    pub fn advice(&self) -> Option<&str> {
        match self {
            Self::Session { source, .. } => match source {
                SessionError::Link { .. } | SessionError::GivenUp { .. } => {
                    Some("is it switched on, on this network, and free of other programs' connections?")
                }
                SessionError::Busy { .. } => Some(
                    "does another program, or another computer, hold its only connection? Close it there, or switch \
                     the instrument off and on. One that never answered before may want another `terminator` or a \
                     `pause`: see `messages` in the profile",
                ),
                SessionError::Echo { .. } => Some(
                    "say `echo: true` under `messages` in the profile, or use the port that does not talk to people",
                ),
                SessionError::Garbled { .. } => Some(
                    "does the profile fit? Under `messages` it can say `prompt`, `terminator` and how `answers_end`; \
                     answers must be bare, without units and headers",
                ),
                SessionError::PowerCycled { .. } => {
                    Some("does its supply or its cable have a loose contact?")
                }
                SessionError::Another { .. } => {
                    Some("has its address been given to another instrument? Fixed addresses save from that")
                }
                SessionError::Silent { .. } => {
                    Some("is it busy, slower than it says, or spoken to in another dialect?")
                }
                SessionError::Refused { .. } | SessionError::Answer { .. } => Some(
                    "does the profile fit this instrument, and does no other program drive it meanwhile? \
                         Compare the profile's `commands` with the manual",
                ),
                SessionError::OutOfStep { .. } => Some("switch the instrument off and on, then start again"),
                SessionError::Message(_) => Some("correct the spelling in the profile"),
            },
            Self::WrongInstrument { .. } => {
                Some("connect the instrument that the bench file names, or correct `serial` there")
            }
            Self::KeyPort { .. } => {
                Some("is it plugged in, may this user open it, and does no other program use it?")
            }
            Self::KeyVanished { .. } => Some(
                "RF on the key cable? Put a ferrite on it at the radio's end, and an isolated contact between port and key",
            ),
            Self::KeyCommand { .. } => Some("try the command by hand, with the transmitter off"),
            Self::Told { advice, .. } => advice.as_deref(),
            Self::WrongProfile { .. } => Some("name a profile of the right kind in the bench file"),
            Self::NotTaken { .. } => Some("does the profile's range fit this instrument?"),
            Self::Contact { .. } | Self::Unconfirmed => {
                Some("is the card wired and powered, and does another program use it?")
            }
            Self::Level { .. } => Some(
                "does `trace_format` in the profile say both format and byte order? Let `identify` find out",
            ),
            Self::OverRange { .. } => Some("is there more power than planned, or a pad too few before it?"),
            Self::Points { .. } | Self::NotANumber { .. } => Some("read the transcript of this run"),
        }
    }
}
