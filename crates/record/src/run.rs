//! One execution of a plan on one unit.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spurline_units::{Db, Dbm};

use crate::layout::Layout;
use crate::reading::Scope;

/// The name of a run: its start in UTC and four hexadecimal digits, for example `20261125-103012-7c1e`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RunId(String);

impl RunId {
    /// Names a run that starts at `started`; `salt` tells runs of the same second apart.
    #[must_use]
    pub fn new(started: Timestamp, salt: u16) -> Self {
        Self(format!("{}-{salt:04x}", started.strftime("%Y%m%d-%H%M%S")))
    }

    /// A name that was read from the record.
    #[must_use]
    pub fn from_record(name: String) -> Self {
        Self(name)
    }

    /// Whether it is a name that [`RunId::new`] could have given.
    #[must_use]
    pub fn is_well_formed(&self) -> bool {
        let mut parts = self.0.split('-');
        let mut part = |length: usize, is_good: fn(&u8) -> bool| {
            parts.next().is_some_and(|part| part.len() == length && part.as_bytes().iter().all(is_good))
        };
        let date = part(8, u8::is_ascii_digit) && part(6, u8::is_ascii_digit);
        date && part(4, |byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')) && parts.next().is_none()
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for RunId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Where a run stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunState {
    /// It is going on, or its process died.
    Running,
    /// It went to its end.
    Finished,
    /// The bench failed.
    Failed,
    /// Someone stopped it.
    Interrupted,
    /// Its process died. Nobody was left to record that: whoever looks finds out that nobody writes the run any more.
    #[serde(rename = "broken off")]
    BrokenOff,
}

impl RunState {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Running => "running",
            Self::Finished => "finished",
            Self::Failed => "failed",
            Self::Interrupted => "interrupted",
            Self::BrokenOff => "broken off",
        }
    }
}

/// How a level near its limit is decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decision {
    /// The expanded uncertainty is kept away from the limit on both sides.
    GuardBand,
    /// The reading is compared with the limit as it stands.
    Simple,
}

/// What an instrument or a unit says it is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Who made it.
    pub maker: String,
    /// What it is.
    pub model: String,
    /// Which one it is.
    pub serial: String,
    /// What runs in it.
    pub firmware: String,
}

/// The part that an instrument plays on a bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Spectrum analyser.
    Analyser,
    /// RF power meter.
    PowerMeter,
    /// Bench supply of the unit.
    Supply,
    /// Relay that keys the unit.
    Relay,
    /// Control port of the unit: frequency and power setting.
    UnitControl,
    /// Relay card that switches the path.
    Switch,
    /// Signal generator, whose lines of known level prove the bench.
    Generator,
    /// Audio generator, whose tone modulates the unit through its microphone input.
    AudioGenerator,
}

impl Role {
    /// All parts.
    pub const ALL: [Self; 8] = [
        Self::Analyser,
        Self::PowerMeter,
        Self::Supply,
        Self::Relay,
        Self::UnitControl,
        Self::Switch,
        Self::Generator,
        Self::AudioGenerator,
    ];

    /// Its name in messages and listings.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Analyser => "analyser",
            Self::PowerMeter => "power-meter",
            Self::Supply => "supply",
            Self::Relay => "relay",
            Self::UnitControl => "unit-control",
            Self::Switch => "switch",
            Self::Generator => "generator",
            Self::AudioGenerator => "audio-generator",
        }
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// An instrument as it was found when the run began.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InstrumentUsed {
    /// The part it plays.
    pub role: Role,
    /// Where it answers.
    pub address: String,
    /// The profile it is spoken to with.
    pub profile: String,
    /// What it says it is.
    pub identity: Identity,
}

/// What a text of the run is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TextRole {
    /// The plan.
    Plan,
    /// The bench.
    Bench,
    /// An instrument profile.
    Profile,
    /// A rule.
    Rule,
    /// A table of the path.
    Path,
    /// A table of bands.
    Bands,
}

/// A file as it was when the run began.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceText {
    /// What it is.
    pub role: TextRole,
    /// Its name, as the user or another file wrote it.
    pub name: String,
    /// Its whole text.
    pub text: String,
}

/// What is known when a run begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunHeader {
    /// The run's name.
    pub id: RunId,
    /// When it began.
    pub started: Timestamp,
    /// The plan's title.
    pub plan: String,
    /// The bench's title.
    pub bench: String,
    /// The unit under test.
    pub unit: Identity,
    /// The rule's name.
    pub rule: String,
    /// The published text behind the rule, with the edition read.
    pub rule_source: String,
    /// Whether the rule text was read: `verified`, `second-hand`, `from-memory`.
    pub rule_status: String,
    /// How levels near the limit are decided.
    pub decision: Decision,
    /// The width of the guard band over U; 1 unless the plan says otherwise.
    #[serde(default = "one")]
    pub guard_factor: f64,
    /// The largest U with which simple acceptance decides, if the plan names one.
    #[serde(default)]
    pub largest_uncertainty: Option<Db>,
    /// Program and version.
    pub software: String,
    /// The seed, if the bench is simulated.
    pub simulated: Option<u64>,
    /// What is wired.
    #[serde(default)]
    pub layout: Layout,
    /// The files of the run.
    pub texts: Vec<SourceText>,
    /// What a reader should be told before the readings.
    pub notes: Vec<String>,
    /// What the run leaves open even if it complies.
    #[serde(default)]
    pub reservations: Vec<String>,
    /// The carriers of an earlier run that the path is verified by.
    #[serde(default)]
    pub noted: Vec<NotedCarrier>,
}

/// A carrier as an earlier run on the same bench, with the same instruments, measured it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotedCarrier {
    /// That run.
    pub run: RunId,
    /// In which state.
    pub scope: Scope,
    /// Its level at the connector.
    pub level: Dbm,
    /// Analyser minus power meter, if both read it.
    pub difference: Option<Db>,
}

const fn one() -> f64 {
    1.0
}

impl RunHeader {
    /// How levels near the limit are decided, in words with figures.
    #[must_use]
    pub fn decision_words(&self) -> String {
        match self.decision {
            Decision::GuardBand => {
                let band = self.guard_band();
                format!(
                    "guard band: complies only if level + {band} is not above the limit, exceeds only if level - {band} \
                     is above it"
                )
            }
            Decision::Simple => {
                let words = "simple acceptance: the level is compared with the limit, without regard to U";
                self.largest_uncertainty.map_or_else(
                    || words.to_owned(),
                    |most| format!("{words}, as long as U is at most {most}"),
                )
            }
        }
    }

    /// The width of the guard band: `U`, or so many times that.
    #[must_use]
    pub fn guard_band(&self) -> String {
        if self.guard_factor == 1.0 { "U".to_owned() } else { format!("{} U", self.guard_factor) }
    }
}
