//! Why a run could not go on. A missed limit is a result, never one of these.

use std::error::Error;

use spurline_instrument::{InstrumentFault, KeyError, OpenError};
use spurline_path::PathError;
use spurline_record::{Fault, InterlockName, Role};
use thiserror::Error as ThisError;

/// Why a run could not go on.
#[derive(Debug, ThisError)]
pub enum RunFault {
    /// An instrument failed.
    #[error("the {} failed", .0.role())]
    Instrument(#[from] InstrumentFault),
    /// The key failed.
    #[error("the key failed")]
    Key(#[from] KeyError),
    /// Another unit answers than the one that was named.
    #[error("expected the unit with serial number `{named}`, found `{found}`")]
    WrongUnit {
        /// The one that was named.
        named: String,
        /// The one that answers.
        found: String,
    },
    /// Another instrument answers than when the run began that is to go on.
    #[error("the {role} is another one than when the run began: expected `{expected}`, found `{found}`")]
    AnotherInstrument {
        /// Which.
        role: Role,
        /// What it said it was.
        expected: String,
        /// What it says it is.
        found: String,
    },
    /// A carrier is not what it was before the run broke off.
    #[error(
        "the carrier of {place} is {level}, and was {before} before the run broke off: more than {allowed} apart"
    )]
    AnotherCarrier {
        /// Channel and power setting.
        place: String,
        /// What it is.
        level: spurline_units::Dbm,
        /// What it was.
        before: spurline_units::Dbm,
        /// What is let pass.
        allowed: spurline_units::Db,
    },
    /// A carrier that was measured before the run broke off does not come any more.
    #[error(
        "the carrier of {place}, which was measured before the run broke off, cannot be measured again: {why}"
    )]
    NoCarrierAgain {
        /// Channel and power setting.
        place: String,
        /// Why.
        why: String,
    },
    /// The card of the key is named as a card of the path.
    #[error("the relay card at {address} is that of the key: both answer with serial number `{serial}`")]
    KeyCardInPath {
        /// Where it answers as a card of the path.
        address: String,
        /// Its serial number.
        serial: String,
    },
    /// The unit does not take a channel or a power setting of the plan.
    #[error("the unit cannot be set to `{channel}` at `{power}`, as the plan wants")]
    Tuning {
        /// The channel.
        channel: String,
        /// The power setting.
        power: String,
        /// Why.
        #[source]
        source: InstrumentFault,
    },
    /// The carrier is more than a part or an input bears; the key is up.
    #[error("the carrier, {level} at the connector, is more than the bench bears")]
    Overload {
        /// What was measured.
        level: spurline_units::Dbm,
        /// What it harms.
        #[source]
        source: spurline_plan::Overload,
    },
    /// The carrier did not go when the key came up.
    #[error("a carrier is there while the key is up: {level} at the connector")]
    CarrierStays {
        /// What is still there.
        level: spurline_units::Dbm,
    },
    /// What must hold before the unit is keyed does not: it was not keyed.
    #[error("the unit was not keyed: the interlock `{name}` does not hold: {why}")]
    Interlock {
        /// Which.
        name: InterlockName,
        /// Why.
        why: String,
    },
    /// Nobody keyed who was told to; the key is up.
    #[error("no carrier came: nobody keyed the unit within {within} of being told to")]
    NobodyKeyed {
        /// For how long it was waited for.
        within: spurline_units::Seconds,
    },
    /// A tone was wanted, and there is nobody and nothing to give it; the key is up.
    #[error("a tone is wanted at the unit's microphone input, and nobody gives it")]
    NobodyForTone,
    /// At the plan's lowest power, or in a glimpse, the path was not what its tables say; nothing more was keyed.
    #[error("the path `{path}` is not what its tables say, at `{power}`: {what}")]
    PathChanged {
        /// The path.
        path: String,
        /// The power setting.
        power: String,
        /// By how much, and against what.
        what: String,
    },
    /// A level was wanted where the path has none; the plan was checked, so this is a mistake of the program.
    #[error("the path has no loss where one is needed")]
    Path(#[from] PathError),
    /// What happened could not be kept.
    #[error("the record cannot be kept")]
    Record(#[source] Box<dyn Error + Send + Sync>),
    /// The measuring itself broke; a mistake of the program.
    #[error("the measuring broke off: {0}")]
    Panic(String),
}

impl From<OpenError> for RunFault {
    fn from(error: OpenError) -> Self {
        match error {
            OpenError::Instrument(fault) => Self::Instrument(fault),
            OpenError::Key(error) => Self::Key(error),
        }
    }
}

impl RunFault {
    /// Whether the transmitter may be keyed still, after everything was tried that brings the key up: now the supply is
    /// the way off.
    #[must_use]
    pub fn is_still_down(&self) -> bool {
        matches!(self, Self::Key(error) if error.is_still_down())
    }

    /// What to do about it, where that is known.
    #[must_use]
    pub fn advice(&self) -> Option<&str> {
        match self {
            Self::Instrument(fault) => fault.advice(),
            Self::Key(error) => error.advice(),
            Self::Overload { .. } => Some(
                "let the part cool and check it before it is used again; plan for the power that the unit gives",
            ),
            Self::Interlock { name, .. } => Some(name.advice()),
            Self::CarrierStays { .. } => {
                Some("switch the unit's supply off by hand now, then look for a stuck key")
            }
            Self::PathChanged { .. } => Some(
                "nothing more was keyed. Look for a swapped or loose cable; a path that was changed on purpose is \
                 measured anew: `spurline path`",
            ),
            Self::Tuning { .. } => {
                Some("does the unit cover this carrier, and does it know the power setting by this name?")
            }
            Self::KeyCardInPath { .. } => Some(
                "put the relays of the path on a card of their own: the key's must always answer at once",
            ),
            Self::WrongUnit { .. } => {
                Some("connect the unit that was named, or name the one that is connected")
            }
            Self::AnotherInstrument { .. } => Some(
                "a run goes on with the instruments and the unit that it began with; begin a new one otherwise",
            ),
            Self::AnotherCarrier { .. } | Self::NoCarrierAgain { .. } => Some(
                "nothing of before can be set beside what would come now. Look for a changed cable, supply or unit; if \
                 the change is meant, begin a new run",
            ),
            Self::NobodyKeyed { .. } => Some("be at the unit when the run says so; begin it again"),
            Self::NobodyForTone => Some(
                "add `audio_generator: { at: …, profile: … }` to the bench file, or run at a terminal where the operator is asked",
            ),
            Self::Record(_) => Some("is the disk full or read-only? Nothing was lost that was shown as kept"),
            Self::Path(_) | Self::Panic(_) => Some("please report this with the run's record"),
        }
    }

    /// Why, from the outermost cause to the innermost.
    pub(crate) fn causes(&self) -> Vec<String> {
        let causes = std::iter::successors(self.source(), |&cause| cause.source());
        causes.map(ToString::to_string).collect()
    }

    /// The same for the record.
    #[must_use]
    pub fn to_record(&self) -> Fault {
        let instrument = match self {
            Self::Instrument(fault) => Some(fault.role()),
            Self::Key(error) => error.role(),
            Self::KeyCardInPath { .. } => Some(Role::Switch),
            Self::AnotherInstrument { role, .. } => Some(*role),
            Self::WrongUnit { .. } | Self::Tuning { .. } => Some(Role::UnitControl),
            Self::Overload { .. }
            | Self::CarrierStays { .. }
            | Self::Interlock { .. }
            | Self::NobodyKeyed { .. }
            | Self::NobodyForTone
            | Self::PathChanged { .. }
            | Self::AnotherCarrier { .. }
            | Self::NoCarrierAgain { .. }
            | Self::Path(_)
            | Self::Record(_)
            | Self::Panic(_) => None,
        };
        Fault {
            instrument,
            message: self.to_string(),
            causes: self.causes(),
            advice: self.advice().map(str::to_owned),
        }
    }
}
