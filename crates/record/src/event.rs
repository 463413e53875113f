//! What happened in a run, in one order.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::Seconds;

use crate::interlock::Interlock;
use crate::outcome::Outcome;
use crate::part::Part;
use crate::reading::{Reading, Scope};
use crate::run::{InstrumentUsed, Role, RunHeader, RunState};

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Its place in the run, from 1.
    pub sequence: u64,
    /// When it happened.
    pub at: Timestamp,
    /// What happened.
    pub kind: EventKind,
}

/// What happened. A closed list: everything that shows or keeps a run learns it from here alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// The run began.
    RunStarted(Box<RunHeader>),
    /// An instrument answered and is what was expected.
    InstrumentFound(InstrumentUsed),
    /// Work on one channel and setting began.
    ScopeStarted {
        /// Which.
        scope: Scope,
        /// How many readings are due in it.
        readings: u32,
    },
    /// A piece of work began, in words.
    Doing(String),
    /// What must hold before the unit is keyed: all of it before the first key-down, then what has changed.
    Interlocks(Vec<Interlock>),
    /// The unit is about to be keyed; by hand, it is seen to be. One that was refused is followed by a key up after no
    /// time.
    KeyDown {
        /// The longest that it may stay so.
        lease: Seconds,
    },
    /// The key is up.
    KeyUp {
        /// How long it was down.
        held: Seconds,
    },
    /// A reading is finished, judged and about to be kept.
    ReadingFinished(Box<Reading>),
    /// A piece of the plan is done: all its readings are kept, with this.
    PartFinished(Part),
    /// A run that had broken off goes on.
    Resumed(Box<Resumption>),
    /// A person was told to do something.
    Prompt(String),
    /// Something that a reader of the run should know.
    Note(String),
    /// Something failed.
    Failed(Fault),
    /// The run ended.
    RunEnded {
        /// How.
        state: RunState,
        /// What its readings come to; `None` if there are none.
        outcome: Option<Outcome>,
    },
}

/// How a run that had broken off goes on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Resumption {
    /// Program and version that goes on.
    pub software: String,
    /// How the run stood: `running` if its process had died.
    pub stood: RunState,
    /// The readings of pieces that were half done, by their ordinals: they stay in the record, and do not count.
    pub set_aside: Vec<u32>,
    /// Whether the key had gone down and nothing says that it came up.
    pub key_was_down: bool,
    /// What a reader should be told.
    pub notes: Vec<String>,
}

/// A failure of the bench.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fault {
    /// The instrument, if it was one.
    pub instrument: Option<Role>,
    /// What failed.
    pub message: String,
    /// Why, from the outermost cause to the innermost.
    pub causes: Vec<String>,
    /// What to do about it.
    pub advice: Option<String>,
}
