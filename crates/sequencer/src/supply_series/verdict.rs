//! What a series of voltages comes to: the course, the worst of the voltages at which the power counts, and the voltages at
//! which it falls away.

use spurline_plan::{Job, SupplySeries};
use spurline_record::{Column, Margin, Outcome, Reading, Reason, ReasonCode, Series, Unit};
use spurline_units::{Db, Volts};

use super::Taken;
use crate::interlock;

/// Power goes with the square of the voltage at most; with a higher power of it than this the unit folds back.
const FOLDS_BACK: f64 = 4.0;
/// A change of less than this between two voltages says nothing.
const CHANGE: Db = Db::new(0.5);

/// The reading of the series, then the harmonics at the voltages at which the power counts.
pub(super) fn judge(
    job: &Job,
    series: &SupplySeries,
    taken: Vec<Taken>,
    back: Option<Taken>,
    mut reading: Reading,
) -> Vec<Reading> {
    reading.series = Some(course(&taken));
    reading.name = Some(format!("{} from {} to {}", series.of.0, series.from, series.to));
    reading.remarks = remarks(series, &taken);
    let there_again = back.as_ref().is_some_and(Taken::is_measured);
    let judged: Vec<(Outcome, Option<Reason>, &Taken)> = taken
        .iter()
        .filter(|taken| taken.point.judged)
        .map(|taken| {
            let (outcome, reason) = verdict(taken, there_again);
            (outcome, reason, taken)
        })
        .collect();
    let room = |taken: &Taken| taken.carrier.margin.and_then(Margin::db).map_or(f64::NEG_INFINITY, Db::get);
    let worst =
        judged.iter().max_by(|one, other| one.0.cmp(&other.0).then(room(other.2).total_cmp(&room(one.2))));
    if let Some((outcome, reason, worst)) = worst {
        let volts = worst.point.setting.set;
        let carrier = &worst.carrier;
        (reading.figure, reading.limit, reading.margin) =
            (carrier.figure, carrier.limit.clone(), carrier.margin);
        reading.derivation = carrier.derivation.clone();
        reading.derivation.steps.push(lowest(job, series));
        (reading.budget, reading.correction) = (carrier.budget.clone(), carrier.correction.clone());
        reading.conformance_probability = carrier.conformance_probability;
        reading.proof = carrier.proof.clone();
        (reading.acquisitions, reading.meter) = (carrier.acquisitions.clone(), carrier.meter.clone());
        reading.remarks.extend(carrier.remarks.iter().cloned());
        reading.remarks.push(format!("figure, looks and uncertainty are those at {volts}"));
        reading.outcome = *outcome;
        reading.reason =
            reason.clone().map(|reason| Reason::new(reason.code, format!("at {volts}: {}", reason.text)));
    }
    let lines = taken.into_iter().filter(|taken| taken.point.judged).flat_map(lines);
    let mut readings: Vec<Reading> = std::iter::once(reading).chain(lines).collect();
    let first = readings[0].ordinal;
    for (ordinal, reading) in (first..).zip(&mut readings) {
        reading.ordinal = ordinal;
    }
    readings
}

/// The harmonics at one voltage. Of a unit that was not fed with it they say nothing about it.
fn lines(taken: Taken) -> Vec<Reading> {
    let limited = limited(&taken);
    let mut lines = taken.harmonics;
    for reading in lines.iter_mut().filter(|reading| reading.outcome == Outcome::Complies) {
        if let Some(text) = &limited {
            reading.outcome = Outcome::Undecided;
            reading.reason = Some(Reason::new(ReasonCode::SupplyLimit, text.clone()));
        }
    }
    lines
}

/// What one voltage comes to.
fn verdict(taken: &Taken, there_again: bool) -> (Outcome, Option<Reason>) {
    if let Some(text) = limited(taken) {
        return (Outcome::Undecided, Some(Reason::new(ReasonCode::SupplyLimit, text)));
    }
    if taken.is_silent() && there_again && taken.drawn.is_some() {
        let text = "no carrier came, and it came again at the voltage where it had come before";
        return (Outcome::Exceeds, Some(Reason::new(ReasonCode::OutsideWindow, text)));
    }
    (taken.carrier.outcome, taken.carrier.reason.clone())
}

/// What to say of a supply that could not give what it was told to.
fn limited(taken: &Taken) -> Option<String> {
    interlock::limited(taken.drawn?, &taken.point.setting)
}

/// From which voltage on the power counts.
fn lowest(job: &Job, series: &SupplySeries) -> String {
    match series.end_point {
        Some(at) => format!("the plan's end point is {at}: from there up the power must lie in the window"),
        None => format!(
            "{} names no end point: the power must lie in the window at every voltage",
            job.document.source.name()
        ),
    }
}

fn course(taken: &[Taken]) -> Series {
    let column = |name: &str, unit: Unit, of: &dyn Fn(&Taken) -> Option<f64>| Column {
        name: name.to_owned(),
        unit,
        values: taken.iter().map(of).collect(),
    };
    let mut columns = vec![
        column("supply voltage", Unit::V, &|taken| Some(taken.point.setting.set.get())),
        column("carrier power", Unit::W, &power),
        column("voltage given", Unit::V, &|taken| taken.drawn.map(|drawn| drawn.0.get())),
        column("current", Unit::A, &|taken| taken.drawn.map(|drawn| drawn.1.get())),
        column("efficiency", Unit::Percent, &efficiency),
    ];
    let mut orders: Vec<u32> =
        taken.iter().flat_map(|taken| &taken.harmonics).filter_map(|reading| reading.order).collect();
    orders.sort_unstable();
    orders.dedup();
    for order in orders {
        let level = |taken: &Taken| {
            let reading = taken.harmonics.iter().find(|reading| reading.order == Some(order))?;
            reading.level().map(spurline_units::Dbm::get)
        };
        columns.push(column(&format!("harmonic {order}"), Unit::Dbm, &level));
    }
    Series { columns }
}

/// The power in watts; none where the carrier could not be measured.
fn power(taken: &Taken) -> Option<f64> {
    let figure = taken.carrier.figure.filter(|_| taken.is_measured())?;
    Some(figure.value)
}

/// Radio power over what is drawn, in per cent.
fn efficiency(taken: &Taken) -> Option<f64> {
    let (volts, amperes) = taken.drawn?;
    let drawn = volts.get() * amperes.get();
    (drawn > 0.0).then(|| power(taken).map(|watts| watts / drawn * 100.0)).flatten()
}

fn remarks(series: &SupplySeries, taken: &[Taken]) -> Vec<String> {
    let mut remarks = vec![match series.end_point {
        Some(at) => format!("the power counts from the end point of {at} up"),
        None => "the power counts at every voltage".to_owned(),
    }];
    if taken.iter().any(|taken| taken.drawn.is_some()) {
        remarks.push("voltage and current as the supply shows them, without an uncertainty".to_owned());
    }
    remarks.extend(
        taken.iter().filter_map(|taken| Some(format!("at {}: {}", taken.point.setting.set, limited(taken)?))),
    );
    let silent = taken.iter().filter(|taken| taken.is_silent());
    remarks.extend(silent.map(|taken| format!("at {} no carrier came", taken.point.setting.set)));
    remarks.extend(folds_back(taken));
    remarks
}

/// Where the power falls faster with the voltage than an amplifier without protection does.
fn folds_back(taken: &[Taken]) -> Vec<String> {
    let mut known: Vec<(f64, f64)> = taken
        .iter()
        .filter(|taken| limited(taken).is_none())
        .filter_map(|taken| Some((taken.point.setting.set.get(), power(taken)?)))
        .collect();
    known.sort_by(|one, other| other.0.total_cmp(&one.0));
    let pairs = known.windows(2);
    pairs
        .filter_map(|pair| {
            let [(high, strong), (low, weak)] = [pair[0], pair[1]];
            let fall = Db::new(10.0 * (strong / weak).log10());
            let exponent = (strong / weak).ln() / (high / low).ln();
            (fall > CHANGE && exponent > FOLDS_BACK).then(|| {
                format!(
                    "from {} to {} the power falls by {fall:.1}, faster than with the square of the voltage: the unit folds \
                     back, or loses its regulation",
                    Volts::new(high),
                    Volts::new(low)
                )
            })
        })
        .collect()
}
