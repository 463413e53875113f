//! The same carrier on another key-down, perhaps by another way: it must have come again, be the same, and come
//! through this way as its tables say. A relay that did not move, or a part that is not in its place, shows here.

use spurline_judge::{Contribution, Distribution};
use spurline_path::{Path, PathError};
use spurline_plan::{CARRIER_CHANGE_DB, CROSS_CHECK_FACTOR, Job, PowerSetting, Way, analyser_budget};
use spurline_record::{Acquisition, MeterReading, Reading, Reason, ReasonCode, Role};
use spurline_units::{Db, Dbm, Hertz};

use super::{Evidence, fault, judge_level, level, of_harmonics, steady};
use crate::possible::MeasuredCarrier;

/// A part that takes one frequency out may have drifted by this share of it: a cavity of aluminium, 23 ppm a kelvin,
/// over 100 kelvin and as much again for its tuning.
const DRIFT: f64 = 0.005;

/// What was seen of the carrier on a key-down that is for its harmonics.
#[derive(Clone, Debug)]
pub(crate) struct AgainLooks {
    pub(crate) zero_span: Acquisition,
    /// Empty on a bench without a power meter.
    pub(crate) meter: Vec<MeterReading>,
}

/// The carrier of this key-down: its own reading if a power meter read it, and what the harmonics are held against.
pub(crate) struct CarrierAgain {
    pub(crate) reading: Option<Reading>,
    pub(crate) measured: Result<MeasuredCarrier, Reason>,
    /// The look, if no reading of its own holds it.
    pub(crate) left: Option<Acquisition>,
    /// How much the carrier varied in it.
    pub(crate) variation: Option<Db>,
}

/// Judges what was seen, knowing the carrier `before`, on the key-down that was for it.
pub(crate) fn judge_again(
    job: &Job,
    way: &Way,
    power: &PowerSetting,
    before: &MeasuredCarrier,
    looks: AgainLooks,
    reading: Reading,
) -> Result<CarrierAgain, PathError> {
    let path = &way.branch.path;
    let course = steady::course(job, &looks.zero_span);
    let variation = course.map(|(_, variation)| variation);
    let seen = level::seen_while_on(job, &looks.zero_span, path, before.nominal)?;
    let loss = path.loss_at(before.nominal)?.total;
    let by_meter = level::by_meter(job, &looks.meter, before.nominal)?;
    let due = by_meter.as_ref().map_or(before.level, |level| level.level);
    let both = uncertainty_of_both(job, path, before)?;
    let allowed = both + drift(path, before.nominal)?;
    let evidence = Evidence {
        course,
        occupied: before.occupied,
        // Whether it came at all, the power meter knows better: this way may hold back more than its table says.
        seen: by_meter.as_ref().map(|level| level.level).or(seen),
        at_analyser: seen.map(|level| level - loss),
        doubt: seen.and_then(|seen| another_path(way, seen, due, allowed)),
        check: None,
        flags: vec![looks.zero_span.flags],
    };
    if job.bench.meter.is_none() {
        let reason = fault(&evidence, power.window, &job.plan.modulation).map(|reason| of_harmonics(&reason));
        let carried = carried_over(before, both, evidence.at_analyser);
        let measured = reason.map_or(Ok(carried), Err);
        return Ok(CarrierAgain { reading: None, measured, left: Some(looks.zero_span), variation });
    }
    let mut judged = judge_level(job, power, by_meter, &evidence, reading);
    judged.reading.acquisitions = vec![looks.zero_span];
    judged.reading.meter = looks.meter;
    let measured = judged.measured.and_then(|now| same(before, now));
    Ok(CarrierAgain { reading: Some(judged.reading), measured, left: None, variation })
}

/// By how much two looks at one carrier may differ, this way's and the one that it is known by.
fn uncertainty_of_both(job: &Job, path: &Path, carrier: &MeasuredCarrier) -> Result<Db, PathError> {
    let file = job.instrument(Role::Analyser).profile.source.name();
    let profile = job.bench.analyser_profile();
    let by_analyser =
        analyser_budget(profile, file, path, &job.plan.unit, carrier.nominal, false)?.combined();
    Ok(Db::new(by_analyser.get().hypot(carrier.standard.get())) * CROSS_CHECK_FACTOR)
}

/// What the loss of a path changes over the drift of a part that takes the carrier out.
fn drift(path: &Path, at: Hertz) -> Result<Db, PathError> {
    let loss = path.loss_at(at)?.total;
    let mut most = Db::default();
    for drifted in [at * (1.0 - DRIFT), at * (1.0 + DRIFT)] {
        // Where a table ends closer than that, its end says what is known.
        let known = path.covered().map_or(at, |covered| drifted.max(covered.low()).min(covered.high()));
        most = most.max((path.loss_at(known)?.total - loss).abs());
    }
    Ok(most)
}

fn another_path(way: &Way, seen: Dbm, due: Dbm, allowed: Db) -> Option<Reason> {
    let difference = (seen - due).abs();
    (difference > allowed).then(|| {
        let text = format!(
            "by the path `{}` the carrier is {seen}, {difference} from the {due} that it is, more than {allowed}: is \
             this path what the bench file says? Look at its relays and at the parts put into it",
            way.name
        );
        Reason::new(ReasonCode::CrossCheckFailed, text)
    })
}

/// The carrier of this key-down, if it is that of the one before.
fn same(before: &MeasuredCarrier, now: MeasuredCarrier) -> Result<MeasuredCarrier, Reason> {
    let change = (now.level - before.level).abs();
    if change.get() <= CARRIER_CHANGE_DB {
        return Ok(now);
    }
    let text = format!(
        "the carrier was {} on one key-down and {} on the next: {change} apart, more than {CARRIER_CHANGE_DB} dB",
        before.level, now.level
    );
    Err(of_harmonics(&Reason::new(ReasonCode::CarrierNotConstant, text)))
}

/// Without a second instrument the level of the first key-down holds, give or take what this one could not have told.
fn carried_over(before: &MeasuredCarrier, both: Db, at_analyser: Option<Dbm>) -> MeasuredCarrier {
    let change = Contribution::new(
        "carrier of another key-down",
        both.max(Db::new(CARRIER_CHANGE_DB)),
        Distribution::Rectangular,
        "what the look at the carrier by the path of the harmonics lets pass",
    );
    let mut budget = before.budget.clone();
    budget.lines.push(change);
    MeasuredCarrier { standard: budget.combined(), budget, at_analyser, ..before.clone() }
}
