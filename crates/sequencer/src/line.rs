//! One harmonic: read, proven, corrected, judged.

use spurline_judge::{
    Budget, COVERAGE, Coherent, Contribution, Decision, Distribution, Regime, Verdict, correct, judge_bound,
    judge_upper, regime,
};
use spurline_path::PathError;
use spurline_plan::{Job, analyser_budget, own_product_at_input, reach};
use spurline_record::{
    Acquisition, Correction, Figure, Floor, Outcome, Proof, Reading, Reason, ReasonCode, Role, Unit,
};
use spurline_units::{Db, Dbm, Hertz};

use crate::conversion;
use crate::possible::{MeasuredCarrier, Possible};
use crate::trace::{self, FLOOR_GUARD, LINE_DB, Peak, Scatter};

/// A line is looked for within the RBW and this much carrier error for each order.
const CARRIER_ERROR: f64 = 2.5e3;
/// Marker and trace are the same sweep: they may differ by display digits only.
const MARKER_SAME_DB: f64 = 0.05;
/// The analyser's own product, when it may be within this of the reading, turns the reading into a bound.
const OWN_RESOLVED_DB: f64 = 10.0;
/// What is there unkeyed must be this far below the keyed reading to be no part of it.
const AMBIENT_DB: f64 = 10.0;

/// Everything about one harmonic that is known beforehand.
pub(crate) struct LineCase<'a> {
    pub(crate) job: &'a Job,
    pub(crate) order: u32,
    pub(crate) frequency: Hertz,
    pub(crate) carrier: &'a MeasuredCarrier,
    pub(crate) possible: &'a Possible,
}

/// A level that was read, and what it is worth.
struct Level {
    level: Dbm,
    bound: Option<ReasonCode>,
    noise: Db,
}

/// Reads and judges one harmonic, and fills the reading in.
pub(crate) fn judge(
    case: &LineCase<'_>,
    keyed: Acquisition,
    unkeyed: Acquisition,
    mut reading: Reading,
) -> Result<Reading, PathError> {
    let path = &case.job.harmonics_way().branch.path;
    let loss = path.loss_at(case.frequency)?;
    let settings = &keyed.settings;
    let reach = reach(settings);
    let levels = trace::smoothed(&trace::mean_power(&keyed.sweeps), reach);
    reading.limit = case.possible.recorded(case.carrier.level);
    reading.derivation = case.possible.derivation.clone();
    let Some(peak) = trace::peak(&levels, settings, case.frequency, search_width(case, &keyed)) else {
        reading.reason =
            Some(Reason::new(ReasonCode::MarkerDisagrees, "the trace has no point near the harmonic"));
        reading.acquisitions = vec![unkeyed, keyed];
        return Ok(reading);
    };
    let floor = trace::floor(&levels, settings, &peak, settings.rbw * FLOOR_GUARD, loss.total);
    let scatter = trace::scatter(&keyed.sweeps, peak.point, reach);
    let marker = marker_difference(&keyed);
    // The larger of what the tables say and of what is there: a part that is not in its place must not hide what the
    // analyser makes of it.
    let by_table = case.carrier.level - path.loss_at(case.carrier.nominal)?.total;
    let at_input = case.carrier.at_analyser.map_or(by_table, |seen| seen.max(by_table));
    let profile = case.job.bench.analyser_profile();
    let own = own_product_at_input(profile, case.order, at_input, settings.attenuation);
    let ambient = unkeyed_line(case, &unkeyed, loss.total);
    let height = trace::noise_height(&levels, settings, &peak, settings.rbw * FLOOR_GUARD);
    let read = read_level(&peak, floor.as_ref(), height, own, loss.total);
    let budget = full_budget(case, &peak, floor.as_ref(), scatter, own, &read)?;
    reading.figure = Some(Figure {
        value: read.level.get(),
        unit: Unit::Dbm,
        level: read.level,
        bound: read.bound.is_some(),
    });
    reading.correction = Some(Correction {
        raw: peak.level,
        path: loss.parts.into_iter().map(|part| (part.name, part.loss)).collect(),
        path_loss: loss.total,
        noise: read.noise,
    });
    reading.proof = Proof {
        floor,
        mixer_level: Some(at_input - settings.attenuation),
        own_distortion: own.map(|own| own + loss.total),
        peak_point: u32::try_from(peak.point).ok(),
        peak_reach: u32::try_from(reach).unwrap_or(0),
        spread: scatter.map(|scatter| scatter.spread),
        marker_difference: marker,
        unkeyed: Some(ambient.level),
        cross_check: None,
        carrier_variation: None,
    };
    reading.budget = Some(conversion::budget(&budget));
    match fault(&keyed, marker) {
        Some(reason) => reading.reason = Some(reason),
        None => decide(case, &mut reading, budget.expanded(COVERAGE), &read, &ambient),
    }
    reading.acquisitions = vec![unkeyed, keyed];
    Ok(reading)
}

fn search_width(case: &LineCase<'_>, look: &Acquisition) -> Hertz {
    look.settings.rbw + Hertz::new(CARRIER_ERROR) * f64::from(case.order)
}

fn marker_difference(look: &Acquisition) -> Option<Db> {
    let (_, level) = look.marker?;
    let highest = look.sweeps.last()?.levels.iter().copied().reduce(f32::max)?;
    Some(level - Dbm::new(f64::from(highest)))
}

/// What is there while the unit is not keyed.
struct Unkeyed {
    level: Dbm,
    is_line: bool,
}

fn unkeyed_line(case: &LineCase<'_>, look: &Acquisition, path_loss: Db) -> Unkeyed {
    let levels = trace::smoothed(&trace::mean_power(&look.sweeps), reach(&look.settings));
    let within = search_width(case, look);
    let Some(peak) = trace::peak(&levels, &look.settings, case.frequency, within) else {
        return Unkeyed { level: Dbm::new(-174.0), is_line: false };
    };
    let floor = trace::floor(&levels, &look.settings, &peak, look.settings.rbw * FLOOR_GUARD, path_loss);
    let is_line = floor.is_some_and(|floor| floor.distance.get() >= LINE_DB);
    Unkeyed { level: peak.level + path_loss, is_line }
}

/// The level at the connector: a value, or an upper bound where noise or own products leave no value.
///
/// The highest of many points of noise stands above the mean of the noise by its `height`. A peak is a line, and has
/// a value, when it stands above that height by as much as a single point must stand above the floor.
fn read_level(
    peak: &Peak,
    floor: Option<&Floor>,
    height: Option<Db>,
    own: Option<Dbm>,
    path_loss: Db,
) -> Level {
    let raw = peak.level + path_loss;
    let distance = floor.map_or(Db::new(0.0), |floor| floor.distance);
    let clear = height.is_some_and(|height| regime(distance - height) == Regime::Resolved);
    let corrected = correct(peak.level, peak.level - distance);
    let (level, noise, hidden) = match corrected.filter(|_| clear) {
        Some(corrected) => (corrected.level + path_loss, corrected.removed, false),
        None => (raw, Db::new(0.0), true),
    };
    let own = own.map(|own| own + path_loss);
    match own.filter(|own| (level - *own).get() < OWN_RESOLVED_DB) {
        // The product may have cancelled part of the line: the line is at most their sum as voltages.
        Some(own) => Level {
            level: voltage_sum(raw, own),
            bound: Some(ReasonCode::OwnDistortion),
            noise: Db::new(0.0),
        },
        None => Level { level, bound: hidden.then_some(ReasonCode::FloorTooHigh), noise },
    }
}

fn voltage_sum(one: Dbm, other: Dbm) -> Dbm {
    one + Db::new(20.0 * ((other - one).amplitude_ratio()).ln_1p() / std::f64::consts::LN_10)
}

fn full_budget(
    case: &LineCase<'_>,
    peak: &Peak,
    floor: Option<&Floor>,
    scatter: Option<Scatter>,
    own: Option<Dbm>,
    read: &Level,
) -> Result<Budget, PathError> {
    let job = case.job;
    let file = job.instrument(Role::Analyser).profile.source.name();
    let profile = job.bench.analyser_profile();
    let path = &job.harmonics_way().branch.path;
    let mut budget = analyser_budget(profile, file, path, &job.plan.unit, case.frequency, true)?;
    if let Some(scatter) = scatter {
        let of_mean = match floor.and_then(|floor| correct(peak.level, peak.level - floor.distance)) {
            Some(corrected) if read.bound.is_none() => corrected.uncertainty(scatter.of_mean, Db::new(0.0)),
            Some(_) | None => scatter.of_mean,
        };
        budget.lines.push(Contribution::new(
            "repeatability of the sweeps",
            of_mean,
            Distribution::Standard,
            "scatter of this reading's sweeps",
        ));
    }
    if let (Some(own), None) = (own, read.bound)
        && let Some(coherent) = Coherent::at(peak.level - own)
    {
        budget.lines.push(Contribution::new(
            "analyser: own product",
            coherent.standard,
            Distribution::Standard,
            format!(
                "{file}: limits.{}",
                if case.order == 2 { "second_intercept" } else { "third_intercept" }
            ),
        ));
    }
    if case.possible.follows_carrier {
        budget.lines.push(Contribution::new(
            "limit: follows the carrier's power",
            case.carrier.standard,
            Distribution::Standard,
            "budget of the carrier's reading",
        ));
    }
    Ok(budget)
}

/// What makes the whole reading worthless, if anything.
fn fault(look: &Acquisition, marker: Option<Db>) -> Option<Reason> {
    if look.flags.overload {
        return Some(Reason::new(ReasonCode::Overload, "the analyser was overloaded"));
    }
    if look.flags.uncalibrated {
        return Some(Reason::new(ReasonCode::Uncalibrated, "the analyser swept too fast for its bandwidth"));
    }
    marker.filter(|difference| difference.abs().get() > MARKER_SAME_DB).map(|difference| {
        let text = format!("marker and trace of the same sweep differ by {difference}");
        Reason::new(ReasonCode::MarkerDisagrees, text)
    })
}

fn decide(case: &LineCase<'_>, reading: &mut Reading, expanded: Db, read: &Level, unkeyed: &Unkeyed) {
    let rule = conversion::rule(case.job.plan.decision);
    let judged = |limit: Dbm| match read.bound {
        Some(_) => judge_bound(read.level, limit, expanded, rule),
        None => judge_upper(read.level, limit, expanded, rule),
    };
    let decision = case.possible.judged(judged);
    if let Some(decision) = &decision {
        reading.margin = Some(decision.margin);
        reading.conformance_probability = Some(decision.conformance_probability);
    }
    if let Some((outcome, reason)) = &case.possible.settled {
        (reading.outcome, reading.reason) = (*outcome, Some(reason.clone()));
        return;
    }
    let Some(decision) = decision else {
        reading.outcome = Outcome::NoLimit;
        reading.reason = Some(Reason::new(ReasonCode::NoNumericLimit, "the rule has no numeric limit here"));
        return;
    };
    let ambient = unkeyed.is_line && (read.level - unkeyed.level).get() < AMBIENT_DB;
    (reading.outcome, reading.reason) = if ambient && decision.verdict != Verdict::Complies {
        let text = format!("{} is there while the unit is not keyed", unkeyed.level);
        (Outcome::Invalid, Some(Reason::new(ReasonCode::Ambient, text)))
    } else {
        outcome(case, &decision, read, expanded, case.possible.disagree(judged))
    };
}

fn outcome(
    case: &LineCase<'_>,
    decision: &Decision,
    read: &Level,
    expanded: Db,
    disagree: bool,
) -> (Outcome, Option<Reason>) {
    match decision.verdict {
        Verdict::Complies => (Outcome::Complies, None),
        Verdict::Exceeds => (Outcome::Exceeds, None),
        Verdict::Undecided if disagree => {
            let limits: Vec<String> = case.possible.levels.iter().map(ToString::to_string).collect();
            let text = format!(
                "the rule leaves several limits possible ({}) and they do not agree",
                limits.join(", ")
            );
            (Outcome::Undecided, Some(Reason::new(ReasonCode::BranchesDisagree, text)))
        }
        Verdict::Undecided => {
            let (code, text) = match read.bound {
                Some(ReasonCode::OwnDistortion) => (
                    ReasonCode::OwnDistortion,
                    format!("with what the analyser may make itself the level may be up to {}", read.level),
                ),
                Some(code) => (code, format!("the floor hides everything below {}", read.level)),
                None => (
                    ReasonCode::WithinUncertainty,
                    format!("{} is within {expanded} of the limit", read.level),
                ),
            };
            (Outcome::Undecided, Some(Reason::new(code, text)))
        }
    }
}
