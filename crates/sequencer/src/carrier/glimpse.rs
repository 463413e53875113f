//! What a glimpse at the carrier says of the path.

use spurline_judge::COVERAGE;
use spurline_path::PathError;
use spurline_plan::{Job, PowerSetting, Way};
use spurline_record::{Acquisition, MeterReading};
use spurline_units::{Db, Hertz};

use super::{PRESENT_DB, holds, level};

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

/// Holds what both instruments saw against each other, or what the analyser saw alone against the plan.
pub(crate) fn judge_glimpse(
    job: &Job,
    way: &Way,
    power: &PowerSetting,
    carrier: Hertz,
    (look, readings): &(Acquisition, Vec<MeterReading>),
) -> Result<Glimpsed, PathError> {
    let present = power.window.low().dbm() - Db::new(PRESENT_DB);
    let meter = level::by_meter(job, readings, carrier)?.filter(|meter| meter.level >= present);
    let mut analyser = level::by_analyser(job, look, carrier)?;
    let on = level::seen_while_on(job, look, &way.branch.path, carrier)?;
    if let Some((analyser, on)) = analyser.as_mut().zip(on) {
        analyser.level = on;
    }
    let analyser = analyser.filter(|analyser| analyser.level >= present);
    if look.flags.overload {
        let text = "the analyser was overloaded with all the attenuation that the glimpse had";
        return Ok(Glimpsed::Wrong(text.to_owned()));
    }
    Ok(match (meter, analyser) {
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
            let (shown, seen, apart) = (check.meter, check.analyser, check.difference.abs());
            if holds(check) {
                Glimpsed::Right(format!(
                    "power meter {shown} and analyser {seen} are {apart} apart, at most {} is let pass",
                    check.allowed
                ))
            } else {
                Glimpsed::Wrong(format!(
                    "power meter {shown} and analyser {seen} differ by {apart}, more than {}: look for a loose or wrong \
                     part of the path",
                    check.allowed
                ))
            }
        }
        (None, Some(analyser)) => {
            let room = analyser.budget.expanded(COVERAGE) + Db::new(UNIT_OFF_DB);
            let (low, high) = (power.window.low().dbm() - room, job.most_of(power).to_dbm() + room);
            let seen = analyser.level;
            if seen < low || seen > high {
                Glimpsed::Wrong(format!(
                    "the carrier is {seen} at the connector by the tables of the path, where at least {low} and at most \
                     {high} was expected of any unit: look for a loose, wrong or missing part of the path"
                ))
            } else {
                Glimpsed::Right(format!("the carrier is {seen}, from {low} to {high} was expected"))
            }
        }
    })
}
