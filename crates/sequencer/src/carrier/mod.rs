//! The carrier: constant in zero span, the same by every instrument that the bench has for it, inside its window.

mod again;
mod glimpse;
mod level;
mod over_time;
mod steady;

use spurline_judge::{Decision, Spread, Verdict, judge_window};
use spurline_path::PathError;
use spurline_plan::{CARRIER_CHANGE_DB, Job, Modulation, OutsideWindow, PowerSetting};
use spurline_record::{
    Acquisition, Correction, CrossCheck, Derivation, Figure, Limit, MeterReading, Outcome, Reading, Reason,
    ReasonCode, SweepFlags, Unit,
};
use spurline_units::{Db, Dbm, Hertz, Power, Range};

pub(crate) use again::{AgainLooks, CarrierAgain, judge_again};
pub(crate) use glimpse::{Glimpsed, judge_glimpse};
use level::CarrierLevel;
pub(crate) use level::seen;
pub(crate) use over_time::{Sample, Shown, judge_over_time, over_time_again};
pub(crate) use steady::changed;

use crate::conversion;
use crate::possible::MeasuredCarrier;
use crate::trace::Course;

/// What the looks at the carrier are for, the one in zero span aside.
pub(crate) const CARRIER_LOOK: &str = "carrier";
/// See [`CARRIER_LOOK`].
pub(crate) const WIDTH_LOOK: &str = "carrier's width";
/// How far below its window a level may be and still be taken for the carrier.
pub(crate) const PRESENT_DB: f64 = 20.0;
/// How far below its window a level must be for the unit to count as not keyed.
pub(crate) const ABSENT_DB: f64 = 30.0;

/// What was seen of the carrier on one key-down.
#[derive(Clone, Debug)]
pub(crate) struct CarrierLooks {
    pub(crate) zero_span: Acquisition,
    pub(crate) carrier: Acquisition,
    pub(crate) width: Acquisition,
    /// Empty on a bench without a power meter.
    pub(crate) meter: Vec<MeterReading>,
}

/// The carrier, judged.
#[derive(Debug)]
pub(crate) struct JudgedCarrier {
    pub(crate) reading: Reading,
    /// What the limits of its harmonics follow from, or why there is nothing.
    pub(crate) measured: Result<MeasuredCarrier, Reason>,
}

/// Whether two looks at the same carrier by two instruments are near enough; they may be repeated once. With one
/// instrument there is nothing to compare.
pub(crate) fn cross_check_holds(job: &Job, looks: &CarrierLooks, carrier: Hertz) -> Result<bool, PathError> {
    if job.bench.meter.is_none() {
        return Ok(true);
    }
    let meter = level::by_meter(job, &looks.meter, carrier)?;
    let analyser = level::by_analyser(job, &looks.carrier, carrier)?;
    Ok(meter.zip(analyser).is_some_and(|(meter, analyser)| holds(level::cross_check(&meter, &analyser))))
}

fn holds(check: CrossCheck) -> bool {
    check.difference.abs() <= check.allowed
}

/// Judges the carrier against its window and fills the reading in.
pub(crate) fn judge(
    job: &Job,
    power: &PowerSetting,
    looks: CarrierLooks,
    reading: Reading,
) -> Result<JudgedCarrier, PathError> {
    let carrier = reading.scope.carrier;
    let analyser = level::by_analyser(job, &looks.carrier, carrier)?;
    let meter = level::by_meter(job, &looks.meter, carrier)?;
    let check = meter.as_ref().zip(analyser.as_ref()).map(|(meter, by)| level::cross_check(meter, by));
    let occupied = steady::occupied(job, &looks.width);
    let evidence = Evidence {
        course: steady::course(job, &looks.zero_span),
        occupied,
        seen: analyser.as_ref().map(|analyser| analyser.level),
        at_analyser: analyser.as_ref().map(|analyser| analyser.shown),
        doubt: steady::off_frequency(&looks.width, carrier),
        check,
        flags: vec![looks.zero_span.flags, looks.carrier.flags, looks.width.flags],
    };
    let mixer = analyser.as_ref().map(|analyser| analyser.shown - looks.carrier.settings.attenuation);
    // A bench with a meter that shows nothing has no carrier, whatever the analyser sees.
    let best = if job.bench.meter.is_some() { meter } else { analyser };
    let mut judged = judge_level(job, power, best, &evidence, reading);
    judged.reading.proof.mixer_level = mixer;
    judged.reading.acquisitions = vec![looks.zero_span, looks.carrier, looks.width];
    judged.reading.remarks.extend(steady::remark(job, occupied));
    let course = evidence.course.as_ref().map(|(course, _)| course);
    judged.reading.remarks.extend(steady::missing_modulation(job, course, occupied));
    judged.reading.meter = looks.meter;
    judged.reading.proof.read_from = judged.reading.proof.peak_point.map(|_| 2);
    Ok(judged)
}

/// What was seen beside the level itself.
struct Evidence {
    /// How it went with time, and how far it varied.
    course: Option<(Course, Db)>,
    /// How wide it is, if wider than a line.
    occupied: Hertz,
    /// The carrier at the connector, as the analyser sees it on this way.
    seen: Option<Dbm>,
    /// The same at its input.
    at_analyser: Option<Dbm>,
    /// What the whole reading is worthless for beside what is looked at here.
    doubt: Option<Reason>,
    check: Option<CrossCheck>,
    flags: Vec<SweepFlags>,
}

fn judge_level(
    job: &Job,
    power: &PowerSetting,
    level: Option<CarrierLevel>,
    evidence: &Evidence,
    mut reading: Reading,
) -> JudgedCarrier {
    let window = power.window;
    put_window(job, power, &mut reading);
    reading.proof.carrier_variation = evidence.course.map(|(_, variation)| variation);
    reading.proof.cross_check = evidence.check;
    let Some(level) = level else {
        let instrument = if job.bench.meter.is_some() { "power meter" } else { "analyser" };
        let text = format!("the {instrument} shows no power: no carrier came");
        let reason = Reason::new(ReasonCode::NotKeyed, text);
        reading.reason = Some(reason.clone());
        return JudgedCarrier { reading, measured: Err(of_harmonics(&reason)) };
    };
    put_level(&level, &mut reading);
    if let Some(reason) = fault(evidence, window, &job.plan.modulation) {
        reading.reason = Some(reason.clone());
        return JudgedCarrier { reading, measured: Err(of_harmonics(&reason)) };
    }
    decide(job, window, &level, &mut reading);
    let measured = MeasuredCarrier {
        nominal: reading.scope.carrier,
        level: level.level,
        standard: level.budget.combined(),
        budget: level.budget,
        at_analyser: evidence.at_analyser,
        occupied: evidence.occupied,
    };
    JudgedCarrier { reading, measured: Ok(measured) }
}

/// Writes what the plan wants of the power into a reading.
fn put_window(job: &Job, power: &PowerSetting, reading: &mut Reading) {
    let window = power.window;
    reading.limit =
        Some(Limit::Window { low: window.low().watts().get(), high: window.high().watts().get() });
    reading.derivation = Derivation {
        source: format!("{}: power of `{}`", job.document.source.name(), power.name),
        steps: vec![format!("the plan wants a mean power from {} to {}", window.low(), window.high())],
    };
}

/// Writes a level into a reading, with everything behind it.
fn put_level(level: &CarrierLevel, reading: &mut Reading) {
    reading.proof.spread = Some(level.spread);
    reading.proof.peak_point = level.point;
    reading.figure = Some(Figure {
        value: level.level.to_watts().get(),
        unit: Unit::W,
        level: Some(level.level),
        bound: false,
    });
    reading.correction = Some(Correction {
        raw: level.shown,
        path: level.path.clone(),
        path_loss: level.path_loss,
        noise: Db::new(0.0),
    });
    reading.budget = Some(conversion::budget(&level.budget));
}

/// Judges a level against its window.
fn decide(job: &Job, window: Range<Power>, level: &CarrierLevel, reading: &mut Reading) {
    let in_dbm =
        Range::new(window.low().dbm(), window.high().dbm()).expect("watts and dBm have the same order");
    let spread = Spread::of(&level.budget);
    let decision = judge_window(level.level, in_dbm, &spread, conversion::rule(&job.plan));
    reading.margin = Some(decision.margin.into());
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = if decision.too_uncertain {
        (Outcome::Undecided, Some(conversion::too_uncertain(&job.plan, spread.expanded())))
    } else {
        outcome(&decision, level.level, window, job.plan.outside_window)
    };
}

/// Why nothing can be said about the harmonics of a carrier that could not be measured.
pub(crate) fn of_harmonics(reason: &Reason) -> Reason {
    Reason::new(ReasonCode::CarrierInvalid, format!("its carrier could not be measured: {}", reason.text))
}

/// What makes the whole reading worthless, if anything.
fn fault(evidence: &Evidence, window: Range<Power>, modulation: &Modulation) -> Option<Reason> {
    let present = window.low().dbm() - Db::new(PRESENT_DB);
    match evidence.seen {
        Some(seen) if seen < present => {
            let text = format!("no carrier came: the analyser sees {seen} at the connector");
            return Some(Reason::new(ReasonCode::NotKeyed, text));
        }
        Some(_) => {}
        None => {
            let text = "no carrier came: the analyser sees nothing at its frequency";
            return Some(Reason::new(ReasonCode::NotKeyed, text));
        }
    }
    if evidence.flags.iter().any(|flags| flags.overload) {
        return Some(Reason::new(ReasonCode::Overload, "the analyser was overloaded by the carrier"));
    }
    if evidence.flags.iter().any(|flags| flags.uncalibrated) {
        return Some(Reason::new(ReasonCode::Uncalibrated, "the analyser swept too fast for its bandwidth"));
    }
    if let Some((course, _)) = evidence.course.filter(|(course, _)| !steady::is_declared(course, modulation))
    {
        let text = format!("{course}; it may vary by {CARRIER_CHANGE_DB} dB in zero span");
        return Some(Reason::new(ReasonCode::CarrierNotConstant, text));
    }
    let course = evidence.course.as_ref().map(|(course, _)| course);
    if let Some(text) = course.and_then(|course| steady::no_such_burst(course, modulation)) {
        return Some(Reason::new(ReasonCode::CarrierNotConstant, text));
    }
    if let Some(doubt) = &evidence.doubt {
        return Some(doubt.clone());
    }
    evidence.check.filter(|check| !holds(*check)).map(|check| {
        let text = format!(
            "power meter {} and analyser {} differ by {}, more than {}: look for a loose or wrong part of the path",
            check.meter,
            check.analyser,
            check.difference.abs(),
            check.allowed
        );
        Reason::new(ReasonCode::CrossCheckFailed, text)
    })
}

fn outcome(
    decision: &Decision,
    level: Dbm,
    window: Range<Power>,
    outside: OutsideWindow,
) -> (Outcome, Option<Reason>) {
    match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => {
            let side = if level > window.high().dbm() { "above" } else { "below" };
            let watts = level.to_watts();
            let (outcome, text) = match outside {
                OutsideWindow::Exceeds => (Outcome::Exceeds, format!("{watts:.3} is {side} the window")),
                OutsideWindow::Invalid => (
                    Outcome::Invalid,
                    format!(
                        "{watts:.3} is {side} what was expected: something else was measured than what was meant, measure it \
                         again"
                    ),
                ),
            };
            (outcome, Some(Reason::new(ReasonCode::OutsideWindow, text)))
        }
        Verdict::Undecided => {
            let text = "the edge of the window lies within the uncertainty";
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    }
}
