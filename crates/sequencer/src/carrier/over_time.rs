//! The carrier's power along a key-down: every sample against the window, once the unit has had time to come up.

use spurline_path::PathError;
use spurline_plan::{Job, PowerSetting, SETTLE};
use spurline_record::{
    Acquisition, Column, MeterReading, Outcome, Reading, Reason, ReasonCode, Series, Unit,
};
use spurline_units::{Db, Dbm, Range, Seconds};

use super::level::{self, CarrierLevel};
use super::{PRESENT_DB, decide, put_level, put_window};
use crate::line::fault;

/// One look at the power.
#[derive(Debug)]
pub(crate) struct Sample {
    /// Since key down.
    pub(crate) at: Seconds,
    pub(crate) shown: Shown,
}

/// What an instrument showed.
#[derive(Debug)]
pub(crate) enum Shown {
    Meter(Option<MeterReading>),
    Analyser(Box<Acquisition>),
}

/// A sample with its level at the connector, if a carrier was there.
struct Point {
    at: Seconds,
    level: Option<CarrierLevel>,
}

/// A change that is smaller is not told.
const TOLD_DB: f64 = 0.05;

/// The reading of a course that was recorded, judged again from its samples; `None` if they are not all there.
pub(crate) fn over_time_again(
    job: &Job,
    power: &PowerSetting,
    recorded: &Reading,
    blank: Reading,
) -> Result<Option<Reading>, PathError> {
    let times = recorded.series.as_ref().and_then(|series| series.columns.first());
    let times: Vec<f64> =
        times.map(|times| times.values.iter().flatten().copied().collect()).unwrap_or_default();
    let shown: Vec<Shown> = if recorded.acquisitions.is_empty() {
        recorded.meter.iter().map(|shown| Shown::Meter(Some(*shown))).collect()
    } else {
        recorded.acquisitions.iter().map(|look| Shown::Analyser(Box::new(look.clone()))).collect()
    };
    if times.is_empty() || shown.len() != times.len() {
        return Ok(None);
    }
    let samples = times.into_iter().zip(shown).map(|(at, shown)| Sample { at: Seconds::new(at), shown });
    judge_over_time(job, power, samples.collect(), blank).map(Some)
}

/// Judges the power of all samples, and fills the reading in.
pub(crate) fn judge_over_time(
    job: &Job,
    power: &PowerSetting,
    samples: Vec<Sample>,
    mut reading: Reading,
) -> Result<Reading, PathError> {
    put_window(job, power, &mut reading);
    let carrier = reading.scope.carrier;
    let absent = power.window.low().dbm() - Db::new(PRESENT_DB);
    let points = samples
        .iter()
        .map(|sample| {
            let level = match &sample.shown {
                Shown::Meter(shown) => level::by_meter(job, shown.as_slice(), carrier)?,
                Shown::Analyser(look) => level::by_analyser(job, look, carrier)?,
            };
            Ok(Point { at: sample.at, level: level.filter(|level| level.level >= absent) })
        })
        .collect::<Result<Vec<Point>, PathError>>()?;
    reading.series = Some(series(&points));
    let settled: Vec<&Point> = points.iter().filter(|point| point.at >= Seconds::from(SETTLE)).collect();
    let worst = settled.iter().filter_map(|point| Some((*point, point.level.as_ref()?)));
    let worst = worst
        .min_by(|one, other| room(one.1.level, power).get().total_cmp(&room(other.1.level, power).get()));
    if let Some((point, level)) = worst {
        put_level(level, &mut reading);
        decide(job, power.window, level, &mut reading);
        if let Some(reason) = &mut reading.reason {
            reason.text = format!("{:.1} after key down: {}", point.at, reason.text);
        }
        reading.remarks.push(format!("nearest to its window {:.1} after key down", point.at));
        reading.remarks.extend(change(&settled));
    }
    let flags = samples.iter().find_map(|sample| match &sample.shown {
        Shown::Analyser(look) => fault(look),
        Shown::Meter(_) => None,
    });
    if let Some(reason) = flags {
        (reading.outcome, reading.reason) = (Outcome::Invalid, Some(reason));
    } else if let Some(gone) = settled.iter().find(|point| point.level.is_none()) {
        let text = format!(
            "no carrier {:.1} after key down: the unit's own time-out timer, its protection, or the key",
            gone.at
        );
        reading.outcome = Outcome::Invalid;
        reading.reason = Some(Reason::new(ReasonCode::CarrierNotConstant, text));
    } else if settled.is_empty() {
        let text = "no sample was taken once the unit had come up";
        reading.reason = Some(Reason::new(ReasonCode::NotKeyed, text));
    }
    for sample in samples {
        match sample.shown {
            Shown::Meter(shown) => reading.meter.extend(shown),
            Shown::Analyser(look) => reading.acquisitions.push(*look),
        }
    }
    Ok(reading)
}

/// How far a level lies within the window.
fn room(level: Dbm, power: &PowerSetting) -> Db {
    let window: Range<_> = power.window;
    (level - window.low().dbm()).min(window.high().dbm() - level)
}

fn series(points: &[Point]) -> Series {
    let watts = |point: &Point| point.level.as_ref().map(|level| level.level.to_watts().get());
    Series {
        columns: vec![
            Column {
                name: "time since key down".to_owned(),
                unit: Unit::S,
                values: points.iter().map(|point| Some(point.at.get())).collect(),
            },
            Column {
                name: "carrier power".to_owned(),
                unit: Unit::W,
                values: points.iter().map(watts).collect(),
            },
        ],
    }
}

/// How the power changes from the first settled sample to the last.
fn change(settled: &[&Point]) -> Option<String> {
    let known = || settled.iter().filter_map(|point| Some((point.at, point.level.as_ref()?.level)));
    let (first, last) = (known().next()?, known().next_back()?);
    let change = last.1 - first.1;
    let word = match change.get() {
        change if change < -TOLD_DB => "falls",
        change if change > TOLD_DB => "rises",
        _ => return None,
    };
    Some(format!(
        "the power {word} by {:.2} from {:.1} to {:.1} after key down",
        change.abs(),
        first.0,
        last.0
    ))
}
