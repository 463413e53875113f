//! When each key-down comes, as far as it can be known beforehand.

use spurline_path::PathError;
use spurline_units::{Hertz, Seconds, Watts};

use super::{ScopeForecast, SetUpForecast, StageForecast, Task};
use crate::job::Job;
use crate::keying::{Heating, Keying};
use crate::states::State;

/// What the timetable calls the glimpse.
const GLIMPSE: &str = "a glimpse, unless a proof of the bench holds";

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

/// The key-downs of the states in their order, then those of the stages, each after the rest that unit and parts need
/// after those before; and how warm the parts become.
///
/// Every look is taken once more while the unit is not keyed: within the rest, but for the first and what follows a glimpse.
pub(super) fn timetable<'f>(
    job: &Job,
    states: impl Iterator<Item = (State<'f>, &'f ScopeForecast)>,
    stages: &[StageForecast],
) -> Result<(Vec<Slot>, Keying), PathError> {
    let mut table = Table { glimpsed: false, keying: Keying::new(job.plan.key), slots: Vec::new() };
    for (state, scope) in states {
        if table.slots.is_empty() && job.glimpses() {
            table.glimpse(job, &state)?;
        }
        let set_up = scope.set_up.iter().flat_map(|set_up| in_set_up(set_up, &scope.scope.path));
        let measured =
            scope.key_downs.iter().map(|down| (down.path.as_str(), down.tasks.clone(), down.keyed));
        let course = scope.course.map(|keyed| {
            let what = "power over time".to_owned();
            (scope.scope.path.as_str(), vec![Task { what, number: None, time: keyed }], keyed)
        });
        let most = job.most_of(state.power);
        for (path, tasks, keyed) in set_up.chain(measured).chain(course) {
            let heating = heating(job, path, state.channel.carrier, most)?;
            let at = table.next(keyed, Seconds::default(), &heating);
            table.push(
                Slot {
                    at,
                    supply: state.supply.map(|supply| supply.name.clone()),
                    channel: state.channel.name.clone(),
                    power_setting: state.power.name.clone(),
                    path: path.to_owned(),
                    tasks,
                    keyed,
                    rest: Seconds::default(),
                },
                &heating,
            );
        }
    }
    let carrier = job.plan.channels[0].carrier;
    let powers = job.plan.channels.iter().flat_map(|channel| &channel.powers);
    let most = powers.map(|power| job.most_of(power)).fold(Watts::new(0.0), Watts::max);
    for stage in stages {
        for (number, down) in stage.downs.iter().enumerate() {
            let heating = heating(job, &down.path, carrier, most)?;
            // What is looked through before the first of them may take longer than the rest.
            let looked = if number == 0 { stage.unkeyed } else { Seconds::default() };
            let at = table.next(down.keyed, looked, &heating);
            table.push(
                Slot {
                    at,
                    supply: down.supply.clone(),
                    channel: stage.state.clone(),
                    power_setting: stage.power_setting.clone(),
                    path: down.path.clone(),
                    tasks: down.tasks.clone(),
                    keyed: down.keyed,
                    rest: Seconds::default(),
                },
                &heating,
            );
        }
    }
    Ok((table.slots, table.keying))
}

fn heating(job: &Job, path: &str, carrier: Hertz, most: Watts) -> Result<Vec<Heating>, PathError> {
    job.heating(job.bench.way(path).unwrap_or(job.carrier_way()), carrier, most)
}

struct Table {
    glimpsed: bool,
    keying: Keying,
    slots: Vec<Slot>,
}

impl Table {
    /// When a key-down may begin that takes `keyed` and is preceded by looks that take `looked`. What becomes too warm
    /// however long it rests is told elsewhere.
    fn next(&self, keyed: Seconds, looked: Seconds, heating: &[Heating]) -> Seconds {
        let Some(last) = self.slots.last() else { return keyed.max(looked) };
        let ended = last.at + last.keyed;
        // What a key-down looks at is looked at before: within the rest, but after a glimpse, which is too short for that.
        let looked = if self.slots.len() == 1 && self.glimpsed { looked.max(keyed) } else { looked };
        let wait = self.keying.wait(ended, heating).unwrap_or_default();
        ended + wait.max(looked)
    }

    /// The first key-down, where a glimpse shows the path.
    fn glimpse(&mut self, job: &Job, state: &State<'_>) -> Result<(), PathError> {
        let way = job.carrier_way();
        let keyed = job.time_of_glimpse(way, state.channel, state.power)?;
        let heating = job.heating(way, state.channel.carrier, job.most_of(state.power))?;
        let slot = Slot {
            at: keyed,
            supply: state.supply.map(|supply| supply.name.clone()),
            channel: state.channel.name.clone(),
            power_setting: state.power.name.clone(),
            path: way.name.clone(),
            tasks: vec![Task { what: GLIMPSE.to_owned(), number: None, time: keyed }],
            keyed,
            rest: self.keying.rest_after(keyed, job.plan.key.has_brief()),
        };
        self.glimpsed = true;
        self.keying.glimpsed(slot.at, slot.at + keyed, &heating);
        self.slots.push(slot);
        Ok(())
    }

    fn push(&mut self, slot: Slot, heating: &[Heating]) {
        self.keying.keyed(slot.at, slot.at + slot.keyed, heating);
        let rest = self.keying.rest_after(slot.keyed, false);
        self.slots.push(Slot { rest, ..slot });
    }
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
