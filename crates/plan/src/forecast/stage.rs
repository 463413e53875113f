//! What is measured once, after all channels: silence, standby, the series over the supply voltage.

use spurline_path::PathError;
use spurline_units::Seconds;

use super::worst::Worst;
use super::{Prospect, Task};
use crate::job::Job;
use crate::measure::{Ceiling, DRAWN_TIME, places};
use crate::way::Place;

/// One such stage.
#[derive(Clone, Debug, PartialEq)]
pub struct StageForecast {
    /// What, for people.
    pub what: String,
    /// How it is done, and how deep it looks.
    pub how: String,
    /// How many readings it gives; of standby at least.
    pub readings: usize,
    /// What the timetable and the record call its state.
    pub state: String,
    /// The power setting, for what is keyed.
    pub power_setting: String,
    /// Its key-downs, in their order.
    pub downs: Vec<StageDown>,
    /// How long the looks take while it is not.
    pub unkeyed: Seconds,
    /// Whether it can be decided.
    pub prospect: Prospect,
}

impl StageForecast {
    /// The longest of its key-downs; zero without any.
    #[must_use]
    pub fn longest(&self) -> Seconds {
        self.downs.iter().map(|down| down.keyed).fold(Seconds::default(), Seconds::max)
    }
}

/// One key-down of a stage.
#[derive(Clone, Debug, PartialEq)]
pub struct StageDown {
    /// The supply, if the plan names one.
    pub supply: Option<String>,
    /// The way to the analyser.
    pub path: String,
    /// What is done, beside the carrier.
    pub tasks: Vec<Task>,
    /// How long the key is down.
    pub keyed: Seconds,
}

/// What can be known of all stages that a plan wants.
///
/// # Errors
///
/// If a path does not cover what is looked at.
pub(super) fn all(job: &Job) -> Result<Vec<StageForecast>, PathError> {
    let mut stages = Vec::new();
    silence(job, &mut stages)?;
    stages.extend(standby(job)?);
    stages.extend(supply_series(job)?);
    Ok(stages)
}

fn silence(job: &Job, stages: &mut Vec<StageForecast>) -> Result<(), PathError> {
    let Some(silence) = &job.plan.silence else { return Ok(()) };
    for (frequency, _) in &silence.frequencies {
        let approach = job.silence_approach(*frequency)?;
        let unkeyed = approach
            .coarse
            .iter()
            .chain(&approach.deep)
            .fold(Seconds::new(0.0), |sum, look| sum + look.time_on_the_wire());
        let bands: Vec<String> =
            approach.bands.iter().map(|band| format!("{} to {}", band.low(), band.high())).collect();
        let show = |level: Option<spurline_units::Dbm>| {
            level.map_or_else(|| "-".to_owned(), |level| format!("{level:.1}"))
        };
        let rbw =
            approach.deep.first().map_or_else(String::new, |look| format!(", RBW {}", look.settings.rbw));
        let down = StageDown {
            supply: job.plan.supplies.first().map(|supply| supply.name.clone()),
            path: job.carrier_way().name.clone(),
            tasks: vec![Task { what: "the bands".to_owned(), number: None, time: approach.keyed }],
            keyed: approach.keyed,
        };
        stages.push(StageForecast {
            what: format!("silence at {frequency}"),
            state: format!("silence at {frequency}"),
            how: format!(
                "{}{rbw}; limit {}{}, noise up to {} at the connector",
                bands.join(", "),
                show(approach.ceiling),
                by_rule(&silence.ceiling),
                show(approach.floor)
            ),
            readings: 1,
            power_setting: job.silence_power().map(|power| power.name).unwrap_or_default(),
            downs: vec![down; approach.key_downs],
            unkeyed,
            prospect: prospect(approach.enough, approach.ceiling.is_some()),
        });
    }
    Ok(())
}

/// That parts and inputs bear a carrier that comes where the unit must be silent, or anywhere in the bands.
pub(super) fn check_silence(job: &Job, worst: &mut Worst) -> Result<(), PathError> {
    let (Some(silence), Some(power)) = (&job.plan.silence, job.silence_power()) else { return Ok(()) };
    let most = power.window.high().watts();
    let watts = job.plan.unit.rated_power.map_or(most, |rated| rated.max(most));
    for (frequency, span) in &silence.frequencies {
        let bands = job.silence_approach(*frequency)?.bands;
        for at in bands.into_iter().flat_map(places).chain([*frequency]) {
            if let Some(overload) = job.overload(job.carrier_way(), at, watts)? {
                let message = format!(
                    "a carrier of {watts} that came at {at} instead of silence would be too much: {overload}"
                );
                let hint = "the path must bear the unit wherever it may transmit: put a pad first, or name narrower `bands`";
                worst.note(Place::Plan(*span), watts.get(), message, hint);
            }
        }
    }
    Ok(())
}

fn standby(job: &Job) -> Result<Option<StageForecast>, PathError> {
    let (Some(standby), Some(approach)) = (&job.plan.measure.standby, job.standby_approach()?) else {
        return Ok(None);
    };
    let rbw = approach.looks.first().map_or_else(String::new, |look| format!("RBW {}", look.settings.rbw));
    let limit = approach.ceiling.map_or_else(|| "-".to_owned(), |level| format!("{level:.1}"));
    Ok(Some(StageForecast {
        what: "emission in standby".to_owned(),
        state: "standby".to_owned(),
        how: format!(
            "{} to {} by {}, {rbw}; limit {limit}{}, noise up to {:.1} at the connector",
            standby.range.low(),
            standby.range.high(),
            job.standby_way().name,
            by_rule(&standby.ceiling),
            approach.floor
        ),
        readings: 1,
        power_setting: String::new(),
        downs: Vec::new(),
        unkeyed: approach.time,
        prospect: prospect(approach.enough, approach.ceiling.is_some()),
    }))
}

fn supply_series(job: &Job) -> Result<Option<StageForecast>, PathError> {
    let (Some(series), Some((channel, power))) = (&job.plan.supply_series, job.series_case()) else {
        return Ok(None);
    };
    let looks = job.series_looks(channel, power)?;
    let drawn = Task { what: "current".to_owned(), number: None, time: DRAWN_TIME };
    let lines = looks.iter().map(|(order, look)| Task::of_look("harmonic", Some(*order), look)).collect();
    let each = super::key_downs(job, channel, power, vec![drawn], lines)?;
    let points = job.series_points();
    let judged = points.iter().filter(|point| point.judged).count();
    let downs = points.iter().flat_map(|point| {
        each.iter().map(|down| StageDown {
            supply: Some(point.label()),
            path: down.path.clone(),
            tasks: down.tasks.clone(),
            keyed: down.keyed,
        })
    });
    Ok(Some(StageForecast {
        what: format!("power over the voltage of {}", series.of.0),
        state: channel.name.clone(),
        how: format!(
            "{} to {} in {} steps, {} at {}",
            series.from, series.to, series.steps, channel.name, power.name
        ),
        readings: 1 + judged * series.harmonics_up_to.saturating_sub(1) as usize,
        power_setting: power.name.clone(),
        downs: downs.collect(),
        unkeyed: Seconds::new(0.0),
        prospect: Prospect::Able,
    }))
}

/// By which rule, where a rule says it.
fn by_rule(ceiling: &Ceiling) -> String {
    ceiling.rule().map_or_else(String::new, |rule| format!(" by {}", rule.name()))
}

fn prospect(enough: bool, has_limit: bool) -> Prospect {
    if !has_limit {
        return Prospect::NoLimit("the rule has no single number over all of it".to_owned());
    }
    if enough {
        return Prospect::Able;
    }
    Prospect::Unable("the noise is above the limit at the narrowest bandwidth that time allows: less loss before the analyser, or fewer or narrower bands".to_owned())
}
