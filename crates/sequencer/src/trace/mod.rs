//! What a trace says: mean power per point, the highest point near a frequency, the floor beside it.

mod course;
mod wide;

use spurline_judge::{Regime, regime};
use spurline_plan::reach;
use spurline_record::{Acquisition, AnalyserSettings, Floor, Sweep};
use spurline_units::{Db, Dbm, Hertz};

pub(crate) use course::{Course, level_while_on};
pub(crate) use wide::{integrated, placed, width_of};

/// Mean power of each point over all sweeps, in dBm. Powers are averaged, never decibels.
pub(crate) fn mean_power(sweeps: &[Sweep]) -> Vec<f64> {
    let Some(first) = sweeps.first() else { return Vec::new() };
    (0..first.levels.len())
        .map(|point| power_mean(sweeps.iter().map(|sweep| f64::from(sweep.levels[point]))))
        .collect()
}

/// Each point averaged, in power, with its neighbours within reach: of many points of noise the highest then stands
/// out less, and so does the noise on a line.
pub(crate) fn smoothed(levels: &[f64], reach: usize) -> Vec<f64> {
    (0..levels.len()).map(|point| power_mean(near(levels, point, reach).iter().copied())).collect()
}

/// The points within reach of one, itself included.
fn near<T>(levels: &[T], point: usize, reach: usize) -> &[T] {
    &levels[point.saturating_sub(reach)..(point + reach + 1).min(levels.len())]
}

/// The floor is taken from farther away than this many RBW, where a Gaussian filter is 75 dB down.
pub(crate) const FLOOR_GUARD: f64 = 2.5;
/// Points beside a line that stand this far above the middle of them are other lines.
const OTHER_LINE_DB: f64 = 6.0;

/// Whether what a floor was taken beside stands out of that noise: keyed or not, a line is what is resolved from the
/// noise's highest point.
pub(crate) fn is_clear(floor: &Floor) -> bool {
    regime(floor.distance - floor.height) == Regime::Resolved
}

/// The highest point of a look near a frequency, each point calmed by its neighbours, with the noise beside it where
/// there is enough of it; `None` if the look has no point there.
pub(crate) fn line_near(
    look: &Acquisition,
    wanted: Hertz,
    within: Hertz,
    path_loss: Db,
) -> Option<(Peak, Option<Floor>)> {
    let settings = &look.settings;
    let levels = smoothed(&mean_power(&look.sweeps), reach(settings));
    let peak = peak(&levels, settings, wanted, within)?;
    Some((peak, floor(&levels, settings, &peak, settings.rbw * FLOOR_GUARD, path_loss)))
}

/// Whether something near a frequency stands out of the noise beside it.
pub(crate) fn stands_out(look: &Acquisition, wanted: Hertz, within: Hertz) -> bool {
    let floor = line_near(look, wanted, within, Db::default()).and_then(|(_, floor)| floor);
    // Without a floor beside it nothing can be told apart: it is taken for a line.
    floor.is_none_or(|floor| is_clear(&floor))
}

/// The noise farther than `guard` from a peak: other lines, which stand out of the middle of what is there, are none.
fn noise_beside(levels: &[f64], settings: &AnalyserSettings, peak: &Peak, guard: Hertz) -> Vec<f64> {
    let far = |point: usize| (settings.frequency_of(point) - peak.frequency).get().abs() > guard.get();
    let mut beside: Vec<f64> =
        levels.iter().enumerate().filter(|(point, _)| far(*point)).map(|(_, level)| *level).collect();
    beside.sort_by(f64::total_cmp);
    let most = beside.get(beside.len() / 2).map_or(0.0, |median| median + OTHER_LINE_DB);
    beside.retain(|level| *level <= most);
    beside
}

/// The highest point of a trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Peak {
    pub(crate) point: usize,
    pub(crate) frequency: Hertz,
    pub(crate) level: Dbm,
}

/// The highest point not farther than `within` from `wanted`; `None` if the trace has no point there.
pub(crate) fn peak(
    levels: &[f64],
    settings: &AnalyserSettings,
    wanted: Hertz,
    within: Hertz,
) -> Option<Peak> {
    levels
        .iter()
        .enumerate()
        .map(|(point, level)| (point, settings.frequency_of(point), *level))
        .filter(|(_, frequency, _)| (*frequency - wanted).get().abs() <= within.get())
        .max_by(|one, other| one.2.total_cmp(&other.2))
        .map(|(point, frequency, level)| Peak { point, frequency, level: Dbm::new(level) })
}

/// The middle of all power that stands near the highest point; `None` without a trace.
pub(crate) fn centre_of(levels: &[f64], settings: &AnalyserSettings) -> Option<Hertz> {
    /// What is so far below the highest is noise, or the filter's skirt.
    const NEAR_DB: f64 = 20.0;
    let highest = levels.iter().copied().reduce(f64::max)?;
    let near = levels.iter().enumerate().filter(|(_, level)| **level > highest - NEAR_DB);
    let (power, moment) = near.fold((0.0, 0.0), |(power, moment), (point, level)| {
        let one = milliwatts(*level);
        (power + one, moment + one * settings.frequency_of(point).get())
    });
    Some(Hertz::new(moment / power))
}

/// Mean noise power farther than `guard` from the peak, and how far the peak and the highest of the noise stand above it.
///
/// `None` if too few points are left for a mean that is worth something.
pub(crate) fn floor(
    levels: &[f64],
    settings: &AnalyserSettings,
    peak: &Peak,
    guard: Hertz,
    path_loss: Db,
) -> Option<Floor> {
    const FEWEST: usize = 50;
    let beside = noise_beside(levels, settings, peak, guard);
    if beside.len() < FEWEST {
        return None;
    }
    let mean = Dbm::new(power_mean(beside.iter().copied()));
    let highest = beside.last().map_or(mean, |highest| Dbm::new(*highest));
    Some(Floor {
        level: mean + path_loss,
        distance: peak.level - mean,
        height: highest - mean,
        points: beside.len() as u32,
    })
}

/// How the sweeps differ at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scatter {
    /// Largest minus smallest.
    pub(crate) spread: Db,
    /// Standard deviation of the mean.
    pub(crate) of_mean: Db,
    /// Degrees of freedom behind it: one less than the sweeps.
    pub(crate) freedom: f64,
}

/// The scatter of the sweeps at one point and those within reach of it; `None` for fewer than two sweeps.
pub(crate) fn scatter(sweeps: &[Sweep], point: usize, reach: usize) -> Option<Scatter> {
    let levels: Vec<f64> = sweeps
        .iter()
        .map(|sweep| power_mean(near(&sweep.levels, point, reach).iter().copied().map(f64::from)))
        .collect();
    if levels.len() < 2 {
        return None;
    }
    let count = levels.len() as f64;
    let mean = levels.iter().sum::<f64>() / count;
    let variance = levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let (low, high) =
        levels.iter().fold((f64::MAX, f64::MIN), |(low, high), level| (low.min(*level), high.max(*level)));
    Some(Scatter {
        spread: Db::new(high - low),
        of_mean: Db::new((variance / count).sqrt()),
        freedom: count - 1.0,
    })
}

/// Largest minus smallest level of a trace.
pub(crate) fn variation(levels: &[f64]) -> Option<Db> {
    let high = levels.iter().copied().reduce(f64::max)?;
    let low = levels.iter().copied().reduce(f64::min)?;
    Some(Db::new(high - low))
}

/// The mean of powers that are given in dBm, in dBm.
pub(crate) fn power_mean(levels: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = levels.len() as f64;
    decibels(levels.map(milliwatts).sum::<f64>() / count)
}

fn milliwatts(level: f64) -> f64 {
    10f64.powf(level / 10.0)
}

fn decibels(milliwatts: f64) -> f64 {
    10.0 * milliwatts.log10()
}

/// Settings as tests need them, around 288.4 MHz.
#[cfg(test)]
pub(crate) fn specimen(points: u32, span: f64, rbw: f64) -> AnalyserSettings {
    use spurline_record::{Detector, Preamplifier};
    use spurline_units::Seconds;

    AnalyserSettings {
        centre: Hertz::from_mhz(288.4),
        span: Hertz::new(span),
        rbw: Hertz::new(rbw),
        vbw: Hertz::new(rbw * 3.0),
        points,
        sweep_time: Seconds::new(0.05),
        detector: Detector::Rms,
        attenuation: Db::new(20.0),
        preamplifier: Preamplifier::Off,
        reference_level: Dbm::new(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(points: u32) -> AnalyserSettings {
        specimen(points, 300e3, 30e3)
    }

    /// numpy 2.4.6: the power mean of -60 and -50 dBm is -52.5964 dBm, the mean of the decibels -55.
    #[test]
    fn sweeps_are_averaged_in_power() {
        let sweeps = [Sweep { levels: vec![-60.0] }, Sweep { levels: vec![-50.0] }];
        assert!((mean_power(&sweeps)[0] - -52.596_4).abs() < 1e-4);
        let scatter = scatter(&sweeps, 0, 0).unwrap();
        assert!((scatter.spread.get() - 10.0).abs() < 1e-12);
        // numpy: std([-60, -50], ddof=1) / sqrt(2)
        assert!((scatter.of_mean.get() - 5.0).abs() < 1e-12);
    }

    /// numpy 2.4.6: the power mean of -60, -50 and -60 dBm is -53.9794 dBm.
    #[test]
    fn neighbours_are_averaged_in_power() {
        let smooth = smoothed(&[-60.0, -60.0, -50.0, -60.0, -60.0], 1);
        assert!((smooth[2] - -53.979_4).abs() < 1e-4 && (smooth[3] - smooth[1]).abs() < 1e-12, "{smooth:?}");
        assert!((smooth[0] - -60.0).abs() < 1e-12);
    }

    /// A neighbour 2 dB weaker is a line, not noise: it neither lifts the floor nor hides the other.
    #[test]
    fn a_neighbouring_line_is_no_noise() {
        let settings = settings(401);
        let mut levels = vec![-80.0; 401];
        (levels[200], levels[335]) = (-20.0, -22.0);
        let peak = peak(&levels, &settings, settings.centre, settings.rbw).unwrap();
        let guard = settings.rbw * FLOOR_GUARD;
        let floor = floor(&levels, &settings, &peak, guard, Db::default()).unwrap();
        assert!((floor.level.get() - -80.0).abs() < 1e-9 && (floor.distance.get() - 60.0).abs() < 1e-9);
        assert!(floor.height.get().abs() < 1e-9 && is_clear(&floor));
    }

    #[test]
    fn a_line_stands_above_the_floor_beside_it() {
        let settings = settings(401);
        let mut levels = vec![-80.0; 401];
        levels[201] = -60.0;
        levels[20] = -50.0;
        let found = peak(&levels, &settings, settings.centre, Hertz::new(30e3)).unwrap();
        assert_eq!((found.point, found.level), (201, Dbm::new(-60.0)));
        assert!((found.frequency - settings.centre - Hertz::new(750.0)).get().abs() < 1e-3);
        levels[20] = -80.0;
        let floor = floor(&levels, &settings, &found, Hertz::new(75e3), Db::new(40.0)).unwrap();
        assert!((floor.level.get() - -40.0).abs() < 1e-9 && (floor.distance.get() - 20.0).abs() < 1e-9);
        assert!(floor.points > 150);
    }
}
