//! What a run came to, and whether that may be.

use serde_json::Value;

use crate::bench::Called;

/// How a run ended, as far as the book tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Ended {
    /// With every reading, as if nothing had been.
    Unnoticed,
    /// With every reading, after something was done again; what it said of it.
    Mended,
    /// With an error that says what failed.
    Told(String),
    /// With the error that the key may still be down, and what to do now.
    Alarm,
}

impl Ended {
    pub(super) fn word(&self) -> &str {
        match self {
            Self::Unnoticed => "right",
            Self::Mended => "right, again",
            Self::Told(_) => "told",
            Self::Alarm => "alarm",
        }
    }

    /// An end is clean with all readings, or with an error.
    pub(super) fn must_be_clean(&self, all: bool, of: &str) {
        match self {
            Self::Unnoticed | Self::Mended => assert!(all, "{of}: readings are missing"),
            Self::Told(why) => {
                assert!(!why.is_empty(), "{of}: it does not say why");
            }
            Self::Alarm => assert!(of.starts_with("relay"), "{of}: the relay answers"),
        }
    }
}

/// The readings of a run.
#[derive(Clone, Debug)]
pub(super) struct Readings(Vec<Value>);

impl Readings {
    pub(super) fn count(&self) -> usize {
        self.0.len()
    }

    /// Every reading that is there is one of `right`: the same outcome, the same level within its own uncertainty.
    pub(super) fn must_be_those_of(&self, right: &Self, of: &str) {
        for reading in &self.0 {
            let same = right.0.iter().find(|other| other["order"] == reading["order"]);
            let other = same.unwrap_or_else(|| panic!("{of}: a reading too many: {reading}"));
            if matches!(reading["outcome"].as_str(), Some("invalid" | "undecided")) {
                // It says itself that it is not to be relied on.
                continue;
            }
            assert_eq!(reading["outcome"], other["outcome"], "{of}: {reading} is not {other}");
            let level = |reading: &Value| reading["level_dbm"].as_f64().unwrap();
            let within = reading["expanded_uncertainty_db"].as_f64().unwrap();
            let difference = (level(reading) - level(other)).abs();
            assert!(difference <= within, "{of}: {difference} dB more or less than {other}");
        }
    }
}

/// What a call of `run` came to.
pub(super) fn of(called: &Called) -> (Ended, Readings) {
    let alarm = called.talk.contains("may still be keyed");
    assert!(!alarm || called.talk.contains("switch the unit's supply off by hand now"), "{called:?}");
    assert!(!called.talk.contains("panicked"), "{called:?}");
    let document = called.json();
    if let Some(downs) = document["key_downs"].as_array() {
        assert!(
            alarm || downs.iter().all(|down| down["held_s"].is_number()),
            "every key-down ended: {called:?}"
        );
    }
    let again = document["notes"].to_string().contains("done again from the beginning");
    let readings = document["readings"].as_array().cloned().unwrap_or_default();
    let invalid = readings.iter().find_map(|reading| {
        let outcome = reading["outcome"].as_str();
        matches!(outcome, Some("invalid" | "undecided"))
            .then(|| reading["reason"].as_str().unwrap().to_owned())
    });
    let ended = match (called.exit, invalid) {
        (4, _) if alarm => Ended::Alarm,
        (0 | 1, None) if again => Ended::Mended,
        (0 | 1, None) => Ended::Unnoticed,
        (1 | 3, Some(reason)) => Ended::Told(reason),
        (4, _) => Ended::Told(
            called
                .talk
                .lines()
                .filter(|line| line.contains("because:") || line.starts_with("error:"))
                .map(str::trim)
                .collect::<Vec<_>>()
                .join(" "),
        ),
        _ => panic!("{called:?}"),
    };
    (ended, Readings(readings))
}
