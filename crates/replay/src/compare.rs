//! What came out of a replay, beside what was recorded: everything but times.

use serde_json::Value;
use spurline_record::{Event, EventKind, Reading, RunState, Sweep};

/// One figure, word or list that is not the same.
#[derive(Clone, Debug, PartialEq)]
pub struct Differing {
    /// In which reading; `None` if it is how the run ended.
    pub reading: Option<u32>,
    /// What, as the record names it.
    pub field: String,
    /// As it was recorded.
    pub recorded: Value,
    /// As it came out now.
    pub replayed: Value,
}

/// The first thing that differs in each reading, in order. Times aside, everything is compared to the last bit.
#[must_use]
pub fn readings(recorded: &[Reading], replayed: &[Reading]) -> Vec<Differing> {
    let count = recorded.len().max(replayed.len());
    (0..count).filter_map(|place| reading(place, recorded.get(place), replayed.get(place))).collect()
}

fn reading(place: usize, recorded: Option<&Reading>, replayed: Option<&Reading>) -> Option<Differing> {
    let number = recorded.or(replayed).map(|reading| reading.ordinal).or(u32::try_from(place + 1).ok());
    let differing = |(field, recorded, replayed)| Differing { reading: number, field, recorded, replayed };
    let (Some(one), Some(other)) = (recorded, replayed) else {
        let there = |reading: Option<&Reading>| Value::from(reading.map(|reading| reading.outcome.word()));
        return Some(differing(("outcome".to_owned(), there(recorded), there(replayed))));
    };
    let first = differs("", &without_sweeps(one), &without_sweeps(other));
    first.or_else(|| sweep(one, other)).map(differing)
}

type Field = (String, Value, Value);

fn without_sweeps(reading: &Reading) -> Value {
    let mut bare = reading.clone();
    bare.acquisitions.iter_mut().for_each(|look| look.sweeps.clear());
    serde_json::to_value(bare).unwrap_or_else(|error| Value::from(error.to_string()))
}

/// The first difference of two structures, times aside.
fn differs(field: &str, one: &Value, other: &Value) -> Option<Field> {
    match (one, other) {
        (Value::Object(one_has), Value::Object(other_has)) => {
            let missing = other_has.keys().filter(|key| !one_has.contains_key(*key));
            one_has.keys().chain(missing).filter(|key| *key != "at").find_map(|key| {
                let within = if field.is_empty() { key.clone() } else { format!("{field}.{key}") };
                differs(&within, &one[key], &other[key])
            })
        }
        (Value::Array(ones), Value::Array(others)) if ones.len() == others.len() => ones
            .iter()
            .zip(others)
            .enumerate()
            .find_map(|(place, (one, other))| differs(&format!("{field}[{place}]"), one, other)),
        _ => (one != other).then(|| (field.to_owned(), one.clone(), other.clone())),
    }
}

/// The first point of a sweep that differs, by its bits.
fn sweep(one: &Reading, other: &Reading) -> Option<Field> {
    let points = |reading: &Reading| -> Vec<(usize, usize, Sweep)> {
        let looks = reading.acquisitions.iter().enumerate();
        let sweeps =
            looks.flat_map(|(look, of)| of.sweeps.iter().enumerate().map(move |(n, s)| (look, n, s.clone())));
        sweeps.collect()
    };
    let (ones, others) = (points(one), points(other));
    if ones.len() != others.len() {
        return Some(("sweeps".to_owned(), ones.len().into(), others.len().into()));
    }
    ones.iter().zip(&others).find_map(|((look, number, one), (_, _, other))| {
        let field = format!("acquisitions[{look}].sweeps[{number}]");
        if one.levels.len() != other.levels.len() {
            return Some((field, one.levels.len().into(), other.levels.len().into()));
        }
        let mut pairs = one.levels.iter().zip(&other.levels).enumerate();
        let (point, (a, b)) = pairs.find(|(_, (a, b))| a.to_bits() != b.to_bits())?;
        Some((format!("{field}[{point}]"), (*a).into(), (*b).into()))
    })
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ending {
    /// Where it stands.
    pub state: RunState,
    /// What its readings came to, in a word.
    pub outcome: Option<&'static str>,
    /// What failed, in the order in which it was told.
    pub faults: Vec<String>,
}

impl Ending {
    /// How a run ended, by its events.
    #[must_use]
    pub fn of(events: &[Event]) -> Self {
        let mut ending = Self { state: RunState::Running, outcome: None, faults: Vec::new() };
        for event in events {
            match &event.kind {
                EventKind::Failed(fault) => ending.faults.push(fault.message.clone()),
                EventKind::RunEnded { state, outcome } => {
                    ending.state = *state;
                    ending.outcome = outcome.map(|outcome| outcome.word());
                }
                _ => {}
            }
        }
        // A failure that is told twice for two reasons is one: the reasons are not compared.
        ending.faults.dedup();
        ending
    }

    /// What differs from another ending. What lies behind a fault names addresses and waits, and is not compared.
    #[must_use]
    pub fn differs(&self, replayed: &Self) -> Vec<Differing> {
        let fields = |ending: &Self| {
            [
                ("state", Value::from(ending.state.word())),
                ("outcome", Value::from(ending.outcome)),
                ("faults", Value::from(ending.faults.clone())),
            ]
        };
        let pairs = fields(self).into_iter().zip(fields(replayed));
        let differing = pairs.filter(|((_, recorded), (_, replayed))| recorded != replayed);
        differing
            .map(|((field, recorded), (_, replayed))| Differing {
                reading: None,
                field: field.to_owned(),
                recorded,
                replayed,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests;
