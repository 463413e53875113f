//! What must hold before a transmitter is keyed.

use std::fmt;

use serde::{Deserialize, Serialize};

/// One condition of the chain that is looked at before every key-down. What is not known does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Interlock {
    /// Which.
    pub name: InterlockName,
    /// Whether it holds.
    pub holds: bool,
    /// Why, in words with figures.
    pub why: String,
    /// The setting of the bench file that sets it aside, if one does: it then counts as holding.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_aside: Option<String>,
}

impl Interlock {
    /// One that holds.
    pub fn holds(name: InterlockName, why: impl Into<String>) -> Self {
        Self { name, holds: true, why: why.into(), set_aside: None }
    }

    /// One that does not hold.
    pub fn trips(name: InterlockName, why: impl Into<String>) -> Self {
        Self { name, holds: false, why: why.into(), set_aside: None }
    }

    /// One that a setting of the bench file sets aside.
    pub fn set_aside(name: InterlockName, why: impl Into<String>, setting: impl Into<String>) -> Self {
        Self { name, holds: true, why: why.into(), set_aside: Some(setting.into()) }
    }
}

macro_rules! names {
    ($($(#[$doc:meta])* $name:ident => $word:literal, $advice:literal,)+) => {
        /// The closed list of interlocks.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum InterlockName {
            $($(#[$doc])* #[serde(rename = $word)] $name,)+
        }

        impl InterlockName {
            /// All of them, in the order in which they are looked at.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// Its name in files and listings.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$name => $word,)+
                }
            }

            /// What to do where it does not hold.
            #[must_use]
            pub const fn advice(self) -> &'static str {
                match self {
                    $(Self::$name => $advice,)+
                }
            }
        }
    };
}

names! {
    /// Somebody has said that this bench may key.
    Armed => "armed",
        "look at the bench, then say `--arm`, or write `armed: true` into the bench file",
    /// Nothing but the supply feeds the unit.
    BatteryRemoved => "battery-removed",
        "take the battery out, then write `battery: removed` into the bench file",
    /// The store takes what is recorded, and has room for it.
    Store => "store",
        "make room in the folder of the record, or name another with `--data`",
    /// The machine's date does not jump; it is told and stops nothing.
    Clock => "clock",
        "let the machine's clock settle before the next run",
    /// The instruments are those that the bench file names.
    BenchIdentity => "bench-identity",
        "connect the instrument that the bench file names, or correct `serial` there",
    /// The carrier is at no frequency of distress and safety.
    NeverKeyed => "never-keyed",
        "choose another channel: a signal leaks even from a load",
    /// The carrier is where the plan may key.
    AuthorisedBand => "authorised-band",
        "add the band to `authorised` in the plan if there is a licence for it, or leave the channel out",
    /// No part of the path gets more than it is rated for.
    PartRatings => "part-ratings",
        "use a part that is rated for more, or plan for less power",
    /// No part of the path becomes too hot.
    PartTemperature => "part-temperature",
        "shorten `key: { longest: … }`, or use a part that is rated for more",
    /// No instrument's input gets more than it bears.
    InstrumentInput => "instrument-input",
        "put more attenuation between the unit and this instrument",
    /// The path has shown that it loses what its tables say.
    PathProven => "path-proven",
        "measure the lowest power setting first, or prove the bench: `spurline prove`",
    /// The supply feeds the unit as it was told to.
    Supply => "supply",
        "is the unit connected to the supply, and is nothing short-circuited?",
    /// The unit has been keyed for no longer than it may be.
    Duty => "duty",
        "shorten `key: { longest: … }`, or raise `most_in_5_min` if the unit can bear it",
    /// The last key-up brought the carrier down.
    CarrierWent => "carrier-went",
        "switch the unit's supply off by hand now, then look for a stuck key",
    /// No carrier is there while the key is up.
    NoCarrierBefore => "no-carrier-before",
        "find what transmits: another unit, a stuck key, a generator that was left on",
}

impl fmt::Display for InterlockName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_json_agree_and_are_in_one_style() {
        for name in InterlockName::ALL {
            assert_eq!(serde_json::to_value(name).unwrap(), name.word());
            assert!(name.word().bytes().all(|byte| byte == b'-' || byte.is_ascii_lowercase()));
            assert!(!name.advice().is_empty());
        }
    }

    #[test]
    fn nothing_is_written_where_nothing_is_set_aside() {
        let holds = Interlock::holds(InterlockName::Armed, "--arm");
        let json = serde_json::to_string(&holds).unwrap();
        assert_eq!(json, r#"{"name":"armed","holds":true,"why":"--arm"}"#);
        assert_eq!(serde_json::from_str::<Interlock>(&json).unwrap(), holds);
    }
}
