//! The carrier's level by power meter and by analyser, each with everything behind it.

use spurline_judge::{Budget, Contribution, Distribution};
use spurline_path::{Path, PathError};
use spurline_plan::{CROSS_CHECK_FACTOR, Job, analyser_budget, difference_budget, meter_budget};
use spurline_record::{Acquisition, CrossCheck, MeterReading, Role};
use spurline_units::{Db, Dbm, Hertz, Watts};

use super::steady::SHARE_APART;
use crate::trace::{self, Peak};

/// A level at the connector.
#[derive(Clone, Debug)]
pub(super) struct CarrierLevel {
    pub(super) level: Dbm,
    /// What the instrument showed.
    pub(super) shown: Dbm,
    /// The loss of each part, and of all of them.
    pub(super) path: Vec<(String, Db)>,
    pub(super) path_loss: Db,
    pub(super) budget: Budget,
    /// Largest minus smallest of the repeats.
    pub(super) spread: Db,
    /// The point of the trace, if it was read from one.
    pub(super) point: Option<u32>,
}

/// Level of the highest point of a look at the carrier, at the connector.
pub(crate) fn seen(look: &Acquisition, path: &Path, carrier: Hertz) -> Result<Option<Dbm>, PathError> {
    let loss = path.loss_at(carrier)?.total;
    Ok(peak_at(look, carrier).map(|peak| peak.level + loss))
}

/// The same of a carrier in bursts, while it is there.
pub(super) fn seen_while_on(
    job: &Job,
    look: &Acquisition,
    path: &Path,
    carrier: Hertz,
) -> Result<Option<Dbm>, PathError> {
    if job.plan.modulation.duty() >= 1.0 {
        return seen(look, path, carrier);
    }
    let loss = path.loss_at(carrier)?.total;
    Ok(trace::level_while_on(look).map(|level| level + loss))
}

/// The highest point of a look near the carrier.
fn peak_at(look: &Acquisition, carrier: Hertz) -> Option<Peak> {
    if look.settings.span.get() == 0.0 {
        // Every point is the same carrier: their mean is it, and the highest only the noisiest.
        let levels = trace::mean_power(&look.sweeps);
        let level = (!levels.is_empty()).then(|| Dbm::new(trace::power_mean(levels.into_iter())));
        return level.map(|level| Peak { point: 0, frequency: carrier, level });
    }
    let within = look.settings.rbw.max(look.settings.spacing());
    trace::peak(&trace::mean_power(&look.sweeps), &look.settings, carrier, within)
}

/// By the power meter; `None` if it showed nothing.
pub(super) fn by_meter(
    job: &Job,
    readings: &[MeterReading],
    carrier: Hertz,
) -> Result<Option<CarrierLevel>, PathError> {
    let (Some(branch), Some(profile)) = (&job.bench.meter, job.bench.meter_profile()) else {
        return Ok(None);
    };
    let Some(shown) = mean(readings) else { return Ok(None) };
    let file = job.instrument(Role::PowerMeter).profile.source.name();
    let budget = meter_budget(profile, file, &branch.path, &job.plan.unit, carrier, shown)?;
    let levels: Vec<f64> = readings.iter().map(|reading| reading.level.get()).collect();
    let spread = trace::variation(&levels).unwrap_or_default();
    let mut level = at_connector(shown, &branch.path, carrier, budget, spread)?;
    let duty = job.plan.modulation.duty();
    if duty < 1.0 {
        // The meter shows the mean over the period; the power of the burst is what the plan's window is about.
        let burst = Db::new(-10.0 * duty.log10());
        level.path.push(("burst: on for a share of the time".to_owned(), burst));
        (level.level, level.path_loss) = (level.level + burst, level.path_loss + burst);
        level.budget.lines.extend(scatter_of_mean(readings));
        level.budget.lines.push(Contribution::new(
            "power meter: share of time of the bursts",
            Db::new(10.0 * (1.0 + SHARE_APART / duty).log10()),
            Distribution::Rectangular,
            "the share that zero span may show otherwise than the plan says",
        ));
    }
    Ok(Some(level))
}

/// By the analyser; `None` if there is no point at the carrier.
pub(super) fn by_analyser(
    job: &Job,
    look: &Acquisition,
    carrier: Hertz,
) -> Result<Option<CarrierLevel>, PathError> {
    let path = &job.carrier_way().branch.path;
    let Some(peak) = peak_at(look, carrier) else { return Ok(None) };
    let file = job.instrument(Role::Analyser).profile.source.name();
    let profile = job.bench.analyser_profile();
    let mut budget = analyser_budget(profile, file, path, &job.plan.unit, carrier, false)?;
    let scatter = trace::scatter(&look.sweeps, peak.point, 0);
    budget.lines.extend(scatter.map(|scatter| {
        let source = "scatter of this reading's sweeps";
        Contribution::new("repeatability of the sweeps", scatter.of_mean, Distribution::Standard, source)
            .with_freedom(scatter.freedom)
    }));
    let spread = scatter.map(|scatter| scatter.spread).unwrap_or_default();
    let level = at_connector(peak.level, path, carrier, budget, spread)?;
    Ok(Some(CarrierLevel { point: u32::try_from(peak.point).ok(), ..level }))
}

fn at_connector(
    shown: Dbm,
    path: &Path,
    carrier: Hertz,
    budget: Budget,
    spread: Db,
) -> Result<CarrierLevel, PathError> {
    let loss = path.loss_at(carrier)?;
    Ok(CarrierLevel {
        level: shown + loss.total,
        shown,
        path: loss.parts.into_iter().map(|part| (part.name, part.loss)).collect(),
        path_loss: loss.total,
        budget,
        spread,
        point: None,
    })
}

/// Both levels held against each other: what they share cancels.
pub(super) fn cross_check(meter: &CarrierLevel, analyser: &CarrierLevel) -> CrossCheck {
    let allowed = difference_budget(&analyser.budget, &meter.budget).combined() * CROSS_CHECK_FACTOR;
    CrossCheck {
        meter: meter.level,
        analyser: analyser.level,
        difference: analyser.level - meter.level,
        allowed,
    }
}

/// What readings that each hold another share of the bursts leave uncertain in their mean.
fn scatter_of_mean(readings: &[MeterReading]) -> Option<Contribution> {
    let count = readings.len() as f64;
    let powers: Vec<f64> = readings.iter().map(|reading| reading.level.to_watts().get()).collect();
    let mean = powers.iter().sum::<f64>() / count;
    if readings.len() < 2 || mean <= 0.0 {
        return None;
    }
    let variance = powers.iter().map(|power| (power - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let of_mean = Db::new(10.0 * ((variance / count).sqrt() / mean).ln_1p() / std::f64::consts::LN_10);
    let source = "scatter of this reading's readings of the meter";
    let line = Contribution::new("power meter: bursts", of_mean, Distribution::Standard, source);
    Some(line.with_freedom(count - 1.0))
}

fn mean(readings: &[MeterReading]) -> Option<Dbm> {
    if readings.is_empty() {
        return None;
    }
    let sum: Watts = readings.iter().map(|reading| reading.level.to_watts()).sum();
    Some((sum / readings.len() as f64).to_dbm())
}
