//! The carrier: constant in zero span, the same by meter and analyser, inside its window.

use spurline_judge::{Budget, COVERAGE, Decision, Verdict, judge_window};
use spurline_path::PathError;
use spurline_plan::{
    CARRIER_CHANGE_DB, CROSS_CHECK_FACTOR, Job, PowerSetting, analyser_budget, difference_budget,
    meter_budget,
};
use spurline_record::{
    Acquisition, Correction, CrossCheck, Derivation, Figure, Limit, MeterReading, Outcome, Reading, Reason,
    ReasonCode, Role, Unit,
};
use spurline_units::{Db, Dbm, Hertz, Power, Range};

use crate::conversion;
use crate::possible::MeasuredCarrier;
use crate::trace;

/// How far below its window a level may be and still be taken for the carrier.
const PRESENT_DB: f64 = 20.0;
/// How far below its window a level must be for the unit to count as not keyed.
pub(crate) const ABSENT_DB: f64 = 30.0;

/// What was seen of the carrier on one key-down.
#[derive(Clone, Debug)]
pub(crate) struct CarrierLooks {
    pub(crate) zero_span: Acquisition,
    pub(crate) carrier: Acquisition,
    pub(crate) meter: Vec<MeterReading>,
}

/// The carrier, judged.
#[derive(Debug)]
pub(crate) struct JudgedCarrier {
    pub(crate) reading: Reading,
    /// What the limits of its harmonics follow from, or why there is nothing.
    pub(crate) measured: Result<MeasuredCarrier, Reason>,
}

/// Level of the highest point of a look at the carrier, at the connector.
pub(crate) fn level_of(job: &Job, look: &Acquisition, carrier: Hertz) -> Result<Option<Dbm>, PathError> {
    let loss = job.bench.analyser.path.loss_at(carrier)?.total;
    let levels = trace::mean_power(&look.sweeps);
    let within = look.settings.rbw.max(look.settings.spacing());
    Ok(trace::peak(&levels, &look.settings, carrier, within).map(|peak| peak.level + loss))
}

/// Whether two looks at the same carrier by two instruments are near enough; they may be repeated once.
pub(crate) fn cross_check_holds(job: &Job, looks: &CarrierLooks, carrier: Hertz) -> Result<bool, PathError> {
    Ok(Levels::of(job, looks, carrier)?
        .is_some_and(|levels| levels.check.difference.abs() <= levels.check.allowed))
}

struct Levels {
    meter: Dbm,
    shown: Dbm,
    path: Vec<(String, Db)>,
    path_loss: Db,
    budget: Budget,
    check: CrossCheck,
}

impl Levels {
    fn of(job: &Job, looks: &CarrierLooks, carrier: Hertz) -> Result<Option<Self>, PathError> {
        let (Some(branch), Some(profile)) = (&job.bench.meter, job.bench.meter_profile()) else {
            return Ok(None);
        };
        let Some(analyser) = level_of(job, &looks.carrier, carrier)? else { return Ok(None) };
        let Some(shown) = mean(&looks.meter) else { return Ok(None) };
        let loss = branch.path.loss_at(carrier)?;
        let meter = shown + loss.total;
        let unit = &job.plan.unit;
        let file = |role| job.instrument(role).profile.source.name();
        let budget = meter_budget(profile, file(Role::PowerMeter), &branch.path, unit, carrier, shown)?;
        let by_analyser = analyser_budget(
            job.bench.analyser_profile(),
            file(Role::Analyser),
            &job.bench.analyser.path,
            unit,
            carrier,
            false,
        )?;
        let allowed = difference_budget(&by_analyser, &budget).combined() * CROSS_CHECK_FACTOR;
        let check = CrossCheck { meter, analyser, difference: analyser - meter, allowed };
        let path = loss.parts.into_iter().map(|part| (part.name, part.loss)).collect();
        Ok(Some(Self { meter, shown, path, path_loss: loss.total, budget, check }))
    }
}

fn mean(readings: &[MeterReading]) -> Option<Dbm> {
    if readings.is_empty() {
        return None;
    }
    let sum: spurline_units::Watts = readings.iter().map(|reading| reading.level.to_watts()).sum();
    Some((sum / readings.len() as f64).to_dbm())
}

/// Judges the carrier against its window and fills the reading in.
pub(crate) fn judge(
    job: &Job,
    power: &PowerSetting,
    looks: CarrierLooks,
    mut reading: Reading,
) -> Result<JudgedCarrier, PathError> {
    let carrier = reading.scope.carrier;
    let window = power.window;
    let variation = trace::variation(&trace::mean_power(&looks.zero_span.sweeps));
    reading.limit =
        Some(Limit::Window { low: window.low().watts().get(), high: window.high().watts().get() });
    reading.derivation = Derivation {
        source: format!("{}: power of `{}`", job.document.source.name(), power.name),
        steps: vec![format!("the plan wants a mean power from {} to {}", window.low(), window.high())],
    };
    reading.proof.carrier_variation = variation;
    let measured = match Levels::of(job, &looks, carrier)? {
        None => {
            let reason = Reason::new(ReasonCode::NotKeyed, "the power meter shows no power: no carrier came");
            reading.reason = Some(reason.clone());
            Err(reason)
        }
        Some(levels) => {
            let fault = fault(&levels, &looks, variation, window);
            fill_in(job, window, &looks, levels, fault, &mut reading)?
        }
    };
    reading.acquisitions = vec![looks.zero_span, looks.carrier];
    reading.meter = looks.meter;
    let measured = measured.map_err(|reason| {
        let text = format!("its carrier could not be measured: {}", reason.text);
        Reason::new(ReasonCode::CarrierInvalid, text)
    });
    Ok(JudgedCarrier { reading, measured })
}

fn fill_in(
    job: &Job,
    window: Range<Power>,
    looks: &CarrierLooks,
    levels: Levels,
    fault: Option<Reason>,
    reading: &mut Reading,
) -> Result<Result<MeasuredCarrier, Reason>, PathError> {
    let nominal = reading.scope.carrier;
    let loss = job.bench.analyser.path.loss_at(nominal)?.total;
    reading.proof.cross_check = Some(levels.check);
    reading.proof.spread = Some(spread(&looks.meter));
    reading.proof.mixer_level = Some(levels.check.analyser - loss - looks.carrier.settings.attenuation);
    reading.figure = Some(Figure {
        value: levels.meter.to_watts().get(),
        unit: Unit::W,
        level: levels.meter,
        bound: false,
    });
    reading.correction = Some(Correction {
        raw: levels.shown,
        path: levels.path,
        path_loss: levels.path_loss,
        noise: Db::new(0.0),
    });
    reading.budget = Some(conversion::budget(&levels.budget));
    if let Some(reason) = fault {
        reading.reason = Some(reason.clone());
        return Ok(Err(reason));
    }
    let in_dbm =
        Range::new(window.low().dbm(), window.high().dbm()).expect("watts and dBm have the same order");
    let rule = conversion::rule(job.plan.decision);
    let decision = judge_window(levels.meter, in_dbm, levels.budget.expanded(COVERAGE), rule);
    reading.margin = Some(decision.margin);
    reading.conformance_probability = Some(decision.conformance_probability);
    (reading.outcome, reading.reason) = outcome(&decision, levels.meter, window);
    Ok(Ok(MeasuredCarrier { nominal, level: levels.meter, standard: levels.budget.combined() }))
}

/// What makes the whole reading worthless, if anything.
fn fault(
    levels: &Levels,
    looks: &CarrierLooks,
    variation: Option<Db>,
    window: Range<Power>,
) -> Option<Reason> {
    let check = levels.check;
    let flags = [looks.zero_span.flags, looks.carrier.flags];
    if check.analyser < window.low().dbm() - Db::new(PRESENT_DB) {
        let text = format!("no carrier came: the analyser sees {} at the connector", check.analyser);
        return Some(Reason::new(ReasonCode::NotKeyed, text));
    }
    if flags.iter().any(|flags| flags.overload) {
        return Some(Reason::new(ReasonCode::Overload, "the analyser was overloaded by the carrier"));
    }
    if flags.iter().any(|flags| flags.uncalibrated) {
        return Some(Reason::new(ReasonCode::Uncalibrated, "the analyser swept too fast for its bandwidth"));
    }
    if let Some(variation) = variation.filter(|variation| variation.get() > CARRIER_CHANGE_DB) {
        let text =
            format!("the carrier varied by {variation} in zero span, more than {CARRIER_CHANGE_DB} dB");
        return Some(Reason::new(ReasonCode::CarrierNotConstant, text));
    }
    if check.difference.abs() > check.allowed {
        let text = format!(
            "power meter {} and analyser {} differ by {}, more than {}: look for a loose or wrong part of the path",
            check.meter,
            check.analyser,
            check.difference.abs(),
            check.allowed
        );
        return Some(Reason::new(ReasonCode::CrossCheckFailed, text));
    }
    None
}

fn outcome(decision: &Decision, level: Dbm, window: Range<Power>) -> (Outcome, Option<Reason>) {
    match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => {
            let side = if level > window.high().dbm() { "above" } else { "below" };
            let text = format!("{:.3} is {side} the window", level.to_watts());
            (Outcome::Exceeds, Some(Reason::new(ReasonCode::OutsideWindow, text)))
        }
        Verdict::Undecided => {
            let text = "the edge of the window lies within the uncertainty";
            (Outcome::Undecided, Some(Reason::new(ReasonCode::WithinUncertainty, text)))
        }
    }
}

fn spread(readings: &[MeterReading]) -> Db {
    let levels: Vec<f64> = readings.iter().map(|reading| reading.level.get()).collect();
    trace::variation(&levels).unwrap_or_default()
}
