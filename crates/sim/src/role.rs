//! Who is who on the wire.

use std::fmt;

/// The part that one simulated instrument plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The spectrum analyser.
    Analyser,
    /// The power meter.
    PowerMeter,
    /// The bench supply.
    Supply,
    /// The relay card that holds the unit's key line.
    Relay,
    /// The remote control of the unit itself.
    UnitControl,
    /// The relay card that switches the path.
    Switch,
    /// The signal generator that proves the bench.
    Generator,
    /// The audio generator at the unit's microphone input.
    AudioGenerator,
}

impl Role {
    /// Every role.
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

    /// The name in files and listings: `analyser`, `power-meter`, `supply`, `relay`, `unit-control`, `switch`,
    /// `generator`, `audio-generator`.
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
        f.write_str(self.name())
    }
}
