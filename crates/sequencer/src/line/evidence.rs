//! What one look says about a line: its level at the connector, or below what it must be.

use spurline_judge::correct;
use spurline_path::{Distorted, PathError};
use spurline_plan::reach;
use spurline_record::{Acquisition, AnalyserSettings, Floor, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use super::LineCase;
use super::apparent::voltage_sum;
use crate::trace::{self, FLOOR_GUARD, Peak, Scatter};

/// Marker and trace are the same sweep: they may differ by display digits only.
const MARKER_SAME_DB: f64 = 0.05;
/// What carries more than its highest point says by as much is wider than the filter.
const WIDE_DB: f64 = 1.0;
/// Whether something is wide can only be told when it stands so far above the noise of all its width.
const WIDE_CLEAR_DB: f64 = 10.0;

/// One look at a line, evaluated.
#[derive(Clone, Debug)]
pub(super) struct Evidence {
    /// Its place among the keyed looks.
    pub(super) look: usize,
    pub(super) settings: AnalyserSettings,
    pub(super) peak: Peak,
    pub(super) floor: Option<Floor>,
    pub(super) scatter: Option<Scatter>,
    pub(super) marker: Option<Db>,
    /// At the connector: without the noise, or with it where it hides the line.
    pub(super) level: Dbm,
    /// The raw level that it comes from, at the analyser's input.
    pub(super) raw: Dbm,
    /// What the noise had added.
    pub(super) removed: Db,
    /// Whether noise hides the line, so that the level is a bound.
    pub(super) hidden: bool,
    /// The most that the analyser and the parts before it made themselves, at the connector; `None` where nobody
    /// guarantees it.
    pub(super) own: Option<Dbm>,
    /// The standard uncertainty that sweeps and noise leave in the level.
    pub(super) random: Db,
    /// The width that was integrated over, if the line is wider than the filter.
    pub(super) width: Option<Hertz>,
}

/// A look with nothing at the line's place.
pub(super) fn nothing_there() -> Reason {
    Reason::new(ReasonCode::MarkerDisagrees, "the trace has no point near the harmonic")
}

impl Evidence {
    /// Evaluates a look; `Err` with a reason if it is worthless.
    pub(super) fn of(
        case: &LineCase<'_>,
        ahead: &Distorted,
        place: usize,
        look: &Acquisition,
    ) -> Result<Result<Self, Reason>, PathError> {
        let settings = &look.settings;
        let loss = case.loss()?;
        let mean = trace::mean_power(&look.sweeps);
        let reach = reach(settings);
        let levels = trace::smoothed(&mean, reach);
        let Some(peak) = trace::peak(&levels, settings, case.frequency, case.search_width(settings)) else {
            return Ok(Err(nothing_there()));
        };
        let guard = settings.rbw * FLOOR_GUARD + case.occupied / 2.0;
        let floor = trace::floor(&levels, settings, &peak, guard, loss);
        let scatter = trace::scatter(&look.sweeps, peak.point, reach);
        let own = case.own_at_input(settings.attenuation)?.map(|own| own + loss);
        let own = own.and_then(|own| match ahead {
            Distorted::Not => Some(own),
            Distorted::AtMost(more) => Some(voltage_sum(own, *more)),
            Distorted::Unknown(_) => None,
        });
        let averaged = case.job.plan.modulation.duty() >= 1.0;
        let own = if averaged {
            own
        } else {
            // A peak detector shows line and noise at their highest together: the voltage of the highest noise may be in
            // it, or none, and no power of a mean can be taken off.
            own.zip(floor).map(|(own, floor)| voltage_sum(own, floor.level + floor.height))
        };
        let distance = floor.map_or(Db::new(0.0), |floor| floor.distance);
        let clear = floor.is_some_and(|floor| trace::is_clear(&floor));
        let narrow = correct(peak.level, peak.level - distance).filter(|_| clear);
        let mut evidence = Self {
            look: place,
            settings: *settings,
            peak,
            floor,
            scatter,
            marker: marker_difference(look),
            level: narrow.filter(|_| averaged).map_or(peak.level, |line| line.level) + loss,
            raw: peak.level,
            removed: narrow.filter(|_| averaged).map_or(Db::new(0.0), |line| line.removed),
            hidden: narrow.is_none(),
            own,
            random: random(scatter, narrow.map(|line| line.by_reading)),
            width: None,
        };
        evidence.widen(case, &mean, loss);
        Ok(match fault(look) {
            Some(reason) => Err(reason),
            None => Ok(evidence),
        })
    }

    /// Takes the power of the whole width where the line is wider than the filter, as the plan says or as it shows.
    fn widen(&mut self, case: &LineCase<'_>, mean: &[f64], loss: Db) {
        let settings = &self.settings;
        let profile = case.job.bench.analyser_profile();
        let modulated = case.occupied.get() > 0.0;
        let width = case.search_width(settings) * 2.0 + case.occupied;
        let bandwidth = settings.rbw * profile.noise.bandwidth;
        let Some(power) = trace::integrated(mean, settings, case.frequency, width, bandwidth) else { return };
        let Some(floor) = self.floor else {
            if modulated {
                self.is_bounded(power, width, loss);
            }
            return;
        };
        let noise = floor.level - loss + Db::new(10.0 * (width / bandwidth).log10());
        let clear = (power - noise).get() >= WIDE_CLEAR_DB;
        let Some(corrected) = correct(power, noise) else {
            if modulated {
                self.is_bounded(power, width, loss);
            }
            return;
        };
        let more = corrected.level + loss - self.level;
        if modulated || (clear && !self.hidden && more.get() > WIDE_DB) {
            self.level = corrected.level + loss;
            (self.raw, self.removed, self.hidden) = (power, corrected.removed, false);
            (self.random, self.width) = (random(self.scatter, Some(corrected.by_reading)), Some(width));
        }
    }

    /// Noise and all, the power of the width is the most that the line can be.
    fn is_bounded(&mut self, power: Dbm, width: Hertz, loss: Db) {
        (self.level, self.raw, self.hidden) = (power + loss, power, true);
        (self.removed, self.width) = (Db::new(0.0), Some(width));
    }
}

/// What makes a whole look worthless, if anything.
pub(crate) fn fault(look: &Acquisition) -> Option<Reason> {
    if look.flags.overload {
        return Some(Reason::new(ReasonCode::Overload, "the analyser was overloaded"));
    }
    if look.flags.uncalibrated {
        let text = "the analyser swept too fast for its bandwidth";
        return Some(Reason::new(ReasonCode::Uncalibrated, text));
    }
    marker_difference(look).filter(|difference| difference.abs().get() > MARKER_SAME_DB).map(|difference| {
        let text = format!("marker and trace of the same sweep differ by {difference}");
        Reason::new(ReasonCode::MarkerDisagrees, text)
    })
}

/// What the sweeps leave uncertain; near the noise it weighs more.
fn random(scatter: Option<Scatter>, by_reading: Option<f64>) -> Db {
    scatter.map_or(Db::new(0.0), |scatter| scatter.of_mean) * by_reading.unwrap_or(1.0)
}

fn marker_difference(look: &Acquisition) -> Option<Db> {
    let (_, level) = look.marker?;
    let highest = look.sweeps.last()?.levels.iter().copied().reduce(f32::max)?;
    Some(level - Dbm::new(f64::from(highest)))
}
