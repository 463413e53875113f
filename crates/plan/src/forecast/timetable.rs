//! When each key-down comes, as far as it can be known beforehand.

use spurline_units::Seconds;

use super::{ScopeForecast, SetUpForecast, StageForecast, Task};
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

/// The key-downs of the states in their order, then those of the stages, each after the rest of the one before.
///
/// Every look is taken once more while the unit is not keyed: within the rest, but for the first.
pub(super) fn timetable<'f>(
    states: impl Iterator<Item = (State<'f>, &'f ScopeForecast)>,
    stages: &[StageForecast],
    key: &Key,
) -> Vec<Slot> {
    let mut slots: Vec<Slot> = Vec::new();
    let rest = |keyed: Seconds| key.rest.max(keyed * f64::from(REST_FACTOR));
    let after = |slots: &[Slot], keyed| slots.last().map_or(keyed, |last| last.at + last.keyed + last.rest);
    for (state, scope) in states {
        let set_up = scope.set_up.iter().flat_map(|set_up| in_set_up(set_up, &scope.scope.path));
        let measured =
            scope.key_downs.iter().map(|down| (down.path.as_str(), down.tasks.clone(), down.keyed));
        let course = scope.course.map(|keyed| {
            let what = "power over time".to_owned();
            (scope.scope.path.as_str(), vec![Task { what, number: None, time: keyed }], keyed)
        });
        for (path, tasks, keyed) in set_up.chain(measured).chain(course) {
            slots.push(Slot {
                at: after(&slots, keyed),
                supply: state.supply.map(|supply| supply.name.clone()),
                channel: state.channel.name.clone(),
                power_setting: state.power.name.clone(),
                path: path.to_owned(),
                tasks,
                keyed,
                rest: rest(keyed),
            });
        }
    }
    for stage in stages {
        for (number, down) in stage.downs.iter().enumerate() {
            // What is looked through before the first of them may take longer than the rest.
            let looked = if number == 0 { stage.unkeyed } else { Seconds::default() };
            let looked = slots.last().map_or(looked, |last| last.at + last.keyed + looked);
            slots.push(Slot {
                at: after(&slots, down.keyed).max(looked),
                supply: down.supply.clone(),
                channel: stage.state.clone(),
                power_setting: stage.power_setting.clone(),
                path: down.path.clone(),
                tasks: down.tasks.clone(),
                keyed: down.keyed,
                rest: rest(down.keyed),
            });
        }
    }
    slots
}

/// As many key-downs as setting the modulation up takes at most.
fn in_set_up<'s>(
    set_up: &SetUpForecast,
    path: &'s str,
) -> impl Iterator<Item = (&'s str, Vec<Task>, Seconds)> + use<'s> {
    let keyed = set_up.keyed / f64::from(set_up.key_downs.max(1));
    let task = Task { what: "modulation set up".to_owned(), number: None, time: keyed };
    (0..set_up.key_downs).map(move |_| (path, vec![task.clone()], keyed))
}
