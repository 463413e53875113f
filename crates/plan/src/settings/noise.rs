//! The noise that a look will meet, and how far it will stand out.

use spurline_profile::{AnalyserProfile, NoiseAveraging};
use spurline_record::AnalyserSettings;
use spurline_units::{Db, Dbm, Hertz};

use super::Look;

/// Points this share of the RBW away still lie on the flat top of a line: there a Gaussian filter is 0.12 dB down,
/// 0.04 dB in the mean.
const TOP: f64 = 0.1;

/// How many points to each side of one lie on the flat top of a line and are averaged with it.
#[must_use]
pub fn reach(settings: &AnalyserSettings) -> usize {
    let spacing = settings.spacing().get();
    if spacing > 0.0 { (settings.rbw.get() * TOP / spacing).floor() as usize } else { 0 }
}

/// How far the highest of many points of noise may be expected above its mean: three standard deviations of the mean
/// of as many samples as one point has.
pub(crate) fn noise_height(look: &Look) -> Db {
    let settings = &look.settings;
    let dwell = settings.sweep_time.get() / f64::from(settings.points);
    let averaged = (2 * reach(settings) + 1) as f64 * f64::from(look.sweeps);
    let samples = (settings.rbw.get() * dwell).max(1.0) * averaged;
    Db::new(10.0 * (1.0 + 3.0 / samples.sqrt()).log10())
}

/// Mean noise power in a bandwidth, referred to the analyser's input.
#[must_use]
pub fn noise_at_input(profile: &AnalyserProfile, rbw: Hertz, attenuation: Db) -> Dbm {
    // A logarithmic average of noise reads 10 gamma / ln 10 dB below its mean power, gamma being Euler's constant.
    const LOGARITHMIC_READS_LOW: f64 = 2.506_815_6;
    let density = match profile.noise.averaging {
        NoiseAveraging::Power => profile.noise.density,
        NoiseAveraging::Logarithmic => profile.noise.density + Db::new(LOGARITHMIC_READS_LOW),
    };
    density + Db::new(10.0 * (rbw.get() * profile.noise.bandwidth).log10()) + attenuation
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::specimen as look;

    /// 3 kHz of a bandwidth of 30 kHz in steps of 750 Hz; 3.74 samples a point, 9 points, 5 sweeps are 168.3 samples,
    /// and 10 log10(1 + 3 / sqrt(168.3)) is 0.9034 dB (numpy 2.4.6).
    #[test]
    fn neighbours_within_reach_calm_the_noise() {
        assert_eq!(reach(&look().settings), 4);
        assert!((noise_height(&look()).get() - 0.903_4).abs() < 1e-4, "{}", noise_height(&look()));
    }
}
