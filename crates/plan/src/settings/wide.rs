//! Looks over a wide range: cut into sweeps that the analyser's points and filters can take.
//!
//! With a peak detector nothing between two points is missed, so that a point may be as far from the next as the filter
//! is wide; what a filter as wide shows of noise is foretold with it.

use spurline_judge::{highest_of_noise, peak_looks};
use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector, Preamplifier};
use spurline_units::{Db, Dbm, Hertz, Range};

use super::{Look, VIDEO, reference, sweep_time};

/// A sweep is not told to be faster.
const SHORTEST: f64 = 0.02;
/// The chance that noise exceeds what is foretold as its highest.
const CHANCE: f64 = 0.01;
/// Points of a sweep that are too few to be a picture of anything.
const FEWEST_POINTS: u32 = 101;

/// The sweeps that cover a range with one resolution bandwidth, the lowest first.
#[must_use]
pub fn wide_looks(
    profile: &AnalyserProfile,
    range: Range<Hertz>,
    rbw: Hertz,
    attenuation: Db,
    expected: Dbm,
    sweeps: u32,
) -> Vec<Look> {
    let span = range.high() - range.low();
    let most = rbw * f64::from(profile.ranges.most_points.max(2) - 1);
    let count = (span / most).ceil().max(1.0);
    let each = span / count;
    let points = ((each / rbw).ceil() as u32 + 1)
        .clamp(FEWEST_POINTS.min(profile.ranges.most_points), profile.ranges.most_points.max(2));
    (0..count as u32)
        .map(|n| {
            let settings = AnalyserSettings {
                centre: range.low() + each * (f64::from(n) + 0.5),
                span: each,
                rbw,
                vbw: rbw * VIDEO,
                points,
                sweep_time: sweep_time(profile, each, rbw, SHORTEST),
                detector: Detector::Peak,
                attenuation,
                preamplifier: Preamplifier::Off,
                reference_level: reference(expected),
            };
            Look { settings, sweeps }
        })
        .collect()
}

/// How far the highest noise of all these looks will stand above its mean, but for one time in a hundred.
#[must_use]
pub fn peak_height(looks: &[Look]) -> Db {
    let independent = |look: &Look| {
        let settings = &look.settings;
        let dwell = settings.sweep_time / f64::from(settings.points);
        f64::from(look.sweeps) * f64::from(settings.points) * peak_looks(settings.rbw.get(), dwell.get())
    };
    highest_of_noise(looks.iter().map(independent).sum(), CHANCE)
}

/// The analyser's bandwidths, the widest first.
pub(crate) fn bandwidths(profile: &AnalyserProfile) -> impl Iterator<Item = Hertz> {
    let range = profile.ranges.rbw;
    (0..=7)
        .rev()
        .flat_map(|decade| [3.0, 1.0].map(|step| Hertz::new(step * 10f64.powi(decade))))
        // A video filter is no wider than the widest of the others.
        .filter(move |rbw| range.contains(*rbw) && (*rbw * VIDEO <= range.high() || *rbw == range.low()))
}

#[cfg(test)]
mod tests {
    use spurline_units::Seconds;

    use super::*;
    use crate::settings::specimen;

    /// Of n independent looks at noise the highest is below x over the mean with a chance of (1 - e^-x)^n: for one in a
    /// hundred and 1,000, 10,000, 100,000 looks 10.610, 11.402, 12.073 dB (numpy 2.4.6).
    #[test]
    fn the_highest_of_many_looks_at_noise() {
        for (points, height) in [(1_000, 10.610), (10_000, 11.402), (100_000, 12.073)] {
            let mut look = specimen();
            look.sweeps = 1;
            look.settings.points = points;
            // One look a point.
            look.settings.sweep_time = Seconds::new(1e-9);
            let found = peak_height(&[look]).get();
            assert!((found - height).abs() < 2e-3, "{points}: {found}");
        }
    }
}
