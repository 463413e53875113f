//! When each key-down comes, as far as it can be known beforehand.

use spurline_units::Seconds;

use super::{KeyDownForecast, Task};
use crate::model::{Key, REST_FACTOR};
use crate::states::State;

/// One key-down in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// When the key goes down, from the start of the run, alignment and zeroing aside.
    pub at: Seconds,
    /// The supply, if the plan names one.
    pub supply: Option<String>,
    /// The channel's name.
    pub channel: String,
    /// The power setting's name.
    pub power_setting: String,
    /// The way to the analyser.
    pub path: String,
    /// What is done beside the carrier.
    pub tasks: Vec<Task>,
    /// How long the key is down.
    pub keyed: Seconds,
    /// How long the unit rests after it.
    pub rest: Seconds,
}

/// The key-downs of the states in their order, each after the rest of the one before.
///
/// Every look is taken once more while the unit is not keyed: within the rest, but for the first.
pub(super) fn timetable<'f>(
    states: impl Iterator<Item = (State<'f>, &'f [KeyDownForecast])>,
    key: &Key,
) -> Vec<Slot> {
    let mut slots: Vec<Slot> = Vec::new();
    for (state, downs) in states {
        for down in downs {
            let at = slots.last().map_or(down.keyed, |last| last.at + last.keyed + last.rest);
            slots.push(Slot {
                at,
                supply: state.supply.map(|supply| supply.name.clone()),
                channel: state.channel.name.clone(),
                power_setting: state.power.name.clone(),
                path: down.path.clone(),
                tasks: down.tasks.clone(),
                keyed: down.keyed,
                rest: key.rest.max(down.keyed * f64::from(REST_FACTOR)),
            });
        }
    }
    slots
}
