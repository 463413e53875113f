//! What stands out of a held sweep of a peak detector: the noise along it, and the highest points above that.

use spurline_judge::{mean_peak, median_peak, peak_looks};
use spurline_record::Acquisition;
use spurline_units::Db;

/// The noise is taken from so many points at a time: their middle is moved little by a line among them.
pub(crate) const BLOCK: usize = 101;
/// The same line is shown within so many points.
pub(crate) const NEAR: usize = 2;
/// Points nearer to a higher one than this many belong to its filter's skirt: two bandwidths.
const BESIDE: usize = 4;

/// How many independent looks stand behind each point of a held sweep.
pub(crate) fn looks(look: &Acquisition, holds: u32) -> f64 {
    let settings = &look.settings;
    let dwell = settings.sweep_time.get() / f64::from(settings.points);
    peak_looks(settings.rbw.get(), dwell) * f64::from(holds)
}

/// The mean noise power along a held sweep, in dBm, one for each block of points.
pub(crate) fn noise(look: &Acquisition, holds: u32) -> Vec<f64> {
    let Some(sweep) = look.sweeps.first() else { return Vec::new() };
    let above = median_peak(looks(look, holds)).get();
    let mut blocks: Vec<f64> = sweep
        .levels
        .chunks(BLOCK)
        .map(|block| {
            let mut sorted = block.to_vec();
            let middle = sorted.len() / 2;
            let (_, median, _) = sorted.select_nth_unstable_by(middle, f32::total_cmp);
            f64::from(*median) - above
        })
        .collect();
    // A short last block says less than the one before it.
    if let [.., before, last] = blocks.as_mut_slice()
        && sweep.levels.len() % BLOCK < BLOCK / 2
        && sweep.levels.len() % BLOCK > 0
    {
        *last = *before;
    }
    blocks
}

/// The points that stand `excursion` or more above the noise as a peak detector shows it, each the highest of its
/// neighbourhood.
pub(crate) fn of(look: &Acquisition, excursion: Db, holds: u32) -> Vec<usize> {
    let Some(sweep) = look.sweeps.first() else { return Vec::new() };
    let threshold = threshold(look, excursion, holds);
    let levels = &sweep.levels;
    let stands = |point: &usize| f64::from(levels[*point]) >= threshold[*point / BLOCK];
    let highest = |point: &usize| {
        let near = point.saturating_sub(BESIDE)..(point + BESIDE + 1).min(levels.len());
        // Of equal ones the first.
        near.clone().all(|other| {
            levels[other] < levels[*point] || (levels[other] == levels[*point] && other >= *point)
        })
    };
    (0..levels.len()).filter(|point| stands(point) && highest(point)).collect()
}

/// From which level on a point stands out, in dBm, one for each block of points.
pub(super) fn threshold(look: &Acquisition, excursion: Db, holds: u32) -> Vec<f64> {
    let over = (mean_peak(looks(look, holds)) + excursion).get();
    noise(look, holds).into_iter().map(|noise| noise + over).collect()
}

/// The highest level within so many points of one.
pub(crate) fn highest_near(look: &Acquisition, point: usize, within: usize) -> f64 {
    let Some(sweep) = look.sweeps.first() else { return f64::NEG_INFINITY };
    let near = point.saturating_sub(within)..(point + within + 1).min(sweep.levels.len());
    f64::from(sweep.levels[near].iter().copied().fold(f32::NEG_INFINITY, f32::max))
}

#[cfg(test)]
mod tests {
    use spurline_record::{Detector, Sweep, SweepFlags};
    use spurline_units::Seconds;

    use super::*;
    use crate::trace::specimen;

    fn look(levels: Vec<f32>) -> Acquisition {
        let mut settings = specimen(levels.len() as u32, 100e6, 100e3);
        settings.detector = Detector::Peak;
        settings.sweep_time = Seconds::new(1.25e-5 * levels.len() as f64);
        Acquisition {
            purpose: "search".to_owned(),
            at: jiff::Timestamp::UNIX_EPOCH,
            keyed: true,
            settings,
            sweeps: vec![Sweep { levels }],
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    /// By hand: 3.2 x 1.25 x 3 are 12 looks, whose median is 10 log10(-ln(1 - 0.5^(1/12))) = 4.60 dB above the mean.
    #[test]
    fn noise_is_the_mean_power_beneath_a_peak_detector() {
        let quiet = look(vec![-80.0; 1000]);
        let found = noise(&quiet, 3);
        assert!(found.iter().all(|level| (level - -84.60).abs() < 0.02), "{found:?}");
    }

    #[test]
    fn a_line_is_found_once_and_lifts_no_noise() {
        let mut levels = vec![-80.0; 1000];
        for (place, level) in
            [(298, -62.0), (299, -42.0), (300, -40.0), (301, -42.0), (302, -62.0), (700, -72.0)]
        {
            levels[place] = level;
        }
        let found = of(&look(levels.clone()), Db::new(6.0), 3);
        assert_eq!(found, [300, 700]);
        levels[700] = -76.0;
        assert_eq!(of(&look(levels.clone()), Db::new(6.0), 3), [300]);
        assert!((highest_near(&look(levels), 297, 2) - -42.0).abs() < 1e-6);
    }
}
