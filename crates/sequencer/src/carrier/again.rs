//! The same carrier on another key-down, by the way of the harmonics: it must have come again, and be the same.

use spurline_judge::{Contribution, Distribution};
use spurline_path::PathError;
use spurline_plan::{CARRIER_CHANGE_DB, Job, PowerSetting};
use spurline_record::{Acquisition, MeterReading, Reading, Reason, ReasonCode};
use spurline_units::Db;

use super::{Evidence, fault, judge_level, level, of_harmonics};
use crate::possible::MeasuredCarrier;
use crate::trace;

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
    power: &PowerSetting,
    before: &MeasuredCarrier,
    looks: AgainLooks,
    reading: Reading,
) -> Result<CarrierAgain, PathError> {
    let path = &job.harmonics_way().branch.path;
    let variation = trace::variation(&trace::mean_power(&looks.zero_span.sweeps));
    let level = level::by_meter(job, &looks.meter, before.nominal)?;
    // The way of the harmonics may hold the carrier back, by more or less than its table says: a power meter on a
    // branch of its own sees better whether it came.
    let seen = match &level {
        Some(level) => Some(level.level),
        None => level::seen(&looks.zero_span, path, before.nominal)?,
    };
    let evidence = Evidence { variation, seen, check: None, flags: vec![looks.zero_span.flags] };
    if job.bench.meter.is_none() {
        let reason = fault(&evidence, power.window).map(|reason| of_harmonics(&reason));
        let measured = reason.map_or_else(|| Ok(carried_over(before)), Err);
        return Ok(CarrierAgain { reading: None, measured, left: Some(looks.zero_span), variation });
    }
    let mut judged = judge_level(job, power, level, &evidence, reading);
    judged.reading.acquisitions = vec![looks.zero_span];
    judged.reading.meter = looks.meter;
    let measured = judged.measured.and_then(|now| same(before, now));
    Ok(CarrierAgain { reading: Some(judged.reading), measured, left: None, variation })
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
    Err(Reason::new(ReasonCode::CarrierNotConstant, text))
}

/// Without a second instrument the level of the first key-down holds, give or take what still counts as constant.
fn carried_over(before: &MeasuredCarrier) -> MeasuredCarrier {
    let change = Contribution::new(
        "carrier of another key-down",
        Db::new(CARRIER_CHANGE_DB),
        Distribution::Rectangular,
        "what still counts as a constant carrier",
    );
    let standard = Db::new(before.standard.get().hypot(change.standard().get()));
    MeasuredCarrier { standard, ..*before }
}
