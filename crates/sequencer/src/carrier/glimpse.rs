//! What a glimpse at the carrier says of the path.

use spurline_judge::COVERAGE;
use spurline_path::PathError;
use spurline_plan::{Job, PowerSetting, Way};
use spurline_record::{Acquisition, CrossCheck, MeterReading};
use spurline_units::{Db, Dbm, Hertz};

use super::level::{self, CarrierLevel};
use super::{PRESENT_DB, holds, steady};

/// A unit that gives half or twice what its window allows is a unit to be judged, not a path to be suspected: without a
/// second instrument nothing tells them apart (common practice: no healthy output stage is farther off).
const UNIT_OFF_DB: f64 = 3.0;

/// What a glimpse says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Glimpsed {
    /// No carrier came, why.
    Nothing(String),
    /// The path is not what its tables say, why.
    Wrong(String),
    /// It is, as these words say.
    Right(String),
}

/// Holds what both instruments saw against each other, or what the analyser saw alone against the plan; and the highest level
/// of the carrier that either saw.
pub(crate) fn judge_glimpse(
    job: &Job,
    way: &Way,
    power: &PowerSetting,
    carrier: Hertz,
    (look, readings): &(Acquisition, Vec<MeterReading>),
) -> Result<(Glimpsed, Option<Dbm>), PathError> {
    let present = power.window.low().dbm() - Db::new(PRESENT_DB);
    let meter = level::by_meter(job, readings, carrier)?.filter(|meter| meter.level >= present);
    let mut analyser = level::by_analyser(job, look, carrier)?;
    let on = level::seen_while_on(job, look, &way.branch.path, carrier)?;
    if let Some((analyser, on)) = analyser.as_mut().zip(on) {
        analyser.level = on;
    }
    let analyser = analyser.filter(|analyser| analyser.level >= present);
    let course = steady::course(job, look).map(|(course, _)| course);
    let other =
        course.as_ref().is_some_and(|course| steady::no_such_burst(course, &job.plan.modulation).is_some());
    // What the meter shows is taken for bursts of the share that the plan states: of others it says nothing.
    let meter = if other { analyser.clone() } else { meter };
    let highest = [&meter, &analyser].into_iter().flatten().map(|seen| seen.level).reduce(Dbm::max);
    Ok((said(job, power, look, (meter, analyser)), highest))
}

fn said(
    job: &Job,
    power: &PowerSetting,
    look: &Acquisition,
    (meter, analyser): (Option<CarrierLevel>, Option<CarrierLevel>),
) -> Glimpsed {
    if look.flags.overload {
        let text = "the analyser was overloaded with all the attenuation that the glimpse had";
        return Glimpsed::Wrong(text.to_owned());
    }
    let (low, high) = (power.window.low().dbm(), job.most_of(power).to_dbm());
    let room = |level: &CarrierLevel| level.budget.expanded(COVERAGE) + Db::new(UNIT_OFF_DB);
    // What both have before them they are wrong about together: only what the plan expects shows that.
    for (level, name) in [(&analyser, "analyser"), (&meter, "power meter")] {
        if let Some(level) = level.as_ref().filter(|level| level.level > high + room(level)) {
            return Glimpsed::Wrong(format!(
                "by the tables of the path the {name} shows {} at the connector, where no unit gives more than {}: look for \
                 a wrong or missing part of the path",
                level.level,
                high + room(level)
            ));
        }
    }
    match (meter, analyser) {
        (None, _) if job.bench.meter.is_some() => {
            Glimpsed::Nothing("the power meter shows no power: no carrier came".to_owned())
        }
        (None, None) => {
            Glimpsed::Nothing("no carrier came: the analyser sees nothing at its frequency".to_owned())
        }
        (Some(meter), None) => Glimpsed::Wrong(format!(
            "the power meter shows {} at the connector, and the analyser nothing: look for a loose or missing part of the \
             path",
            meter.level
        )),
        (Some(meter), Some(analyser)) => {
            let check = level::cross_check(&meter, &analyser);
            let CrossCheck { meter, analyser, difference, allowed } = check;
            let apart = difference.abs();
            if holds(check) {
                Glimpsed::Right(format!(
                    "power meter {meter} and analyser {analyser} are {apart} apart, at most {allowed} is let pass"
                ))
            } else {
                Glimpsed::Wrong(format!(
                    "power meter {meter} and analyser {analyser} differ by {apart}, more than {allowed}: look for a loose \
                     or wrong part of the path"
                ))
            }
        }
        (None, Some(analyser)) => {
            let (seen, least) = (analyser.level, low - room(&analyser));
            if seen < least {
                Glimpsed::Wrong(format!(
                    "by the tables of the path the analyser shows {seen} at the connector, where a unit gives {least} at \
                     least: look for a loose or wrong part of the path"
                ))
            } else {
                let most = high + room(&analyser);
                Glimpsed::Right(format!("the analyser shows {seen}, from {least} to {most} is let pass"))
            }
        }
    }
}
