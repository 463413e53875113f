//! Which settings a look with the analyser takes, chosen before anything is keyed.

use std::time::Duration;

use spurline_profile::{AnalyserProfile, NoiseAveraging};
use spurline_record::{AnalyserSettings, Detector, Preamplifier};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::mixer::own_product;

/// One look with the analyser.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// The settings.
    pub settings: AnalyserSettings,
    /// How many sweeps are taken and kept.
    pub sweeps: u32,
}

/// After key down: amplifier ramp, synthesiser, sensor.
pub const SETTLE: Duration = Duration::from_millis(500);
/// After a relay of the path has moved: a coaxial relay has settled within 20 ms (common practice).
pub const SWITCH_SETTLE: Duration = Duration::from_millis(50);
/// A carrier that varies more in zero span is not constant.
pub const CARRIER_CHANGE_DB: f64 = 0.5;
/// Meter and analyser may differ by this many standard uncertainties of their difference: twice would reject
/// one good channel in twenty.
pub const CROSS_CHECK_FACTOR: f64 = 3.0;

/// Total level at the mixer at which own products are usually small.
const MIXER_LEVEL: f64 = -20.0;
const ZERO_SPAN_RBW: f64 = 300e3;
const ZERO_SPAN_TIME: f64 = 0.2;
const CARRIER_SPAN: f64 = 1e6;
const CARRIER_RBW: f64 = 100e3;
const CARRIER_TIME: f64 = 0.02;
const CARRIER_SWEEPS: u32 = 3;
pub(crate) const LINE_SPAN: f64 = 300e3;
const LINE_RBW: f64 = 30e3;
const LINE_TIME: f64 = 0.05;
const LINE_SWEEPS: u32 = 5;
const POINTS: u32 = 401;
const ZERO_SPAN_POINTS: u32 = 101;
/// Video bandwidth over RBW: wide enough not to smooth in dB.
const VIDEO: f64 = 3.0;
/// Headroom of the reference level over what is expected.
const HEADROOM: f64 = 10.0;

/// Power against time at the carrier.
#[must_use]
pub fn zero_span_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm) -> Look {
    let settings = AnalyserSettings {
        centre: carrier,
        span: Hertz::new(0.0),
        rbw: rbw(profile, ZERO_SPAN_RBW),
        vbw: rbw(profile, ZERO_SPAN_RBW * VIDEO),
        points: ZERO_SPAN_POINTS,
        sweep_time: Seconds::new(ZERO_SPAN_TIME),
        detector: Detector::Rms,
        ..carrier_look(profile, carrier, at_input).settings
    };
    Look { settings, sweeps: 1 }
}

/// The carrier.
#[must_use]
pub fn carrier_look(profile: &AnalyserProfile, carrier: Hertz, at_input: Dbm) -> Look {
    let rbw = rbw(profile, CARRIER_RBW);
    let span = Hertz::new(CARRIER_SPAN);
    let settings = AnalyserSettings {
        centre: carrier,
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        points: POINTS.min(profile.ranges.most_points),
        sweep_time: sweep_time(profile, span, rbw, CARRIER_TIME),
        detector: Detector::Peak,
        attenuation: least_attenuation(profile, at_input),
        preamplifier: Preamplifier::Off,
        reference_level: reference(at_input),
    };
    Look { settings, sweeps: CARRIER_SWEEPS }
}

/// A line at `frequency` of this order, with the full carrier at the analyser's input.
///
/// The attenuation is the one that leaves the most room below `limit_at_input` for both the noise and the
/// analyser's own products; never so little that the carrier drives the mixer beyond its linear range.
#[must_use]
pub fn line_look(
    profile: &AnalyserProfile,
    frequency: Hertz,
    order: u32,
    carrier_at_input: Dbm,
    limit_at_input: Option<Dbm>,
) -> Look {
    let rbw = rbw(profile, LINE_RBW);
    let span = Hertz::new(LINE_SPAN);
    let least = least_attenuation(profile, carrier_at_input);
    let limit = limit_at_input.unwrap_or(carrier_at_input - Db::new(60.0));
    let room = |attenuation: Db| {
        let floor = noise_at_input(profile, rbw, attenuation);
        let own = own_product_at_input(profile, order, carrier_at_input, attenuation);
        own.map_or(limit - floor, |own| (limit - floor).min(limit - own))
    };
    let attenuation = steps(profile)
        .filter(|attenuation| *attenuation >= least)
        .max_by(|one, other| room(*one).get().total_cmp(&room(*other).get()))
        .unwrap_or(least);
    let settings = AnalyserSettings {
        centre: frequency,
        span,
        rbw,
        vbw: Hertz::new(rbw.get() * VIDEO),
        points: POINTS.min(profile.ranges.most_points),
        sweep_time: sweep_time(profile, span, rbw, LINE_TIME),
        detector: Detector::Rms,
        attenuation,
        preamplifier: Preamplifier::Off,
        reference_level: reference(limit),
    };
    Look { settings, sweeps: LINE_SWEEPS }
}

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

/// The most that the analyser itself makes at a harmonic, referred to its input.
#[must_use]
pub fn own_product_at_input(
    profile: &AnalyserProfile,
    order: u32,
    carrier_at_input: Dbm,
    attenuation: Db,
) -> Option<Dbm> {
    own_product(&profile.limits, order, carrier_at_input - attenuation).map(|level| level + attenuation)
}

fn steps(profile: &AnalyserProfile) -> impl Iterator<Item = Db> + '_ {
    let (low, high, step) = (
        profile.ranges.attenuation.low().get(),
        profile.ranges.attenuation.high().get(),
        profile.ranges.attenuation_step.get(),
    );
    let count = ((high - low) / step).floor() as u32;
    (0..=count).map(move |n| Db::new(low + f64::from(n) * step))
}

/// The least attenuation that keeps the mixer at or below its usual level; the most there is, if none does.
fn least_attenuation(profile: &AnalyserProfile, at_input: Dbm) -> Db {
    let most = profile.limits.linear_to.min(Dbm::new(MIXER_LEVEL));
    steps(profile)
        .find(|attenuation| at_input - *attenuation <= most)
        .unwrap_or(profile.ranges.attenuation.high())
}

/// Bandwidths come in steps of 1, 3, 10: the nearest one within the analyser's range.
fn rbw(profile: &AnalyserProfile, wanted: f64) -> Hertz {
    let decade = 10f64.powf(wanted.log10().floor());
    let ratio = wanted / decade;
    let step = if ratio < 1.7 {
        1.0
    } else if ratio < 5.5 {
        3.0
    } else {
        10.0
    };
    Hertz::new(decade * step).min(profile.ranges.rbw.high()).max(profile.ranges.rbw.low())
}

fn sweep_time(profile: &AnalyserProfile, span: Hertz, rbw: Hertz, wanted: f64) -> Seconds {
    Seconds::new(wanted.max(profile.ranges.sweep_factor * span.get() / (rbw.get() * rbw.get())))
}

fn reference(expected: Dbm) -> Dbm {
    Dbm::new((expected.get() + HEADROOM).ceil().clamp(-80.0, 30.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look() -> Look {
        let settings = AnalyserSettings {
            centre: Hertz::from_mhz(288.4),
            span: Hertz::new(LINE_SPAN),
            rbw: Hertz::new(LINE_RBW),
            vbw: Hertz::new(LINE_RBW * VIDEO),
            points: POINTS,
            sweep_time: Seconds::new(LINE_TIME),
            detector: Detector::Rms,
            attenuation: Db::new(20.0),
            preamplifier: Preamplifier::Off,
            reference_level: Dbm::new(0.0),
        };
        Look { settings, sweeps: LINE_SWEEPS }
    }

    /// 3 kHz of a bandwidth of 30 kHz in steps of 750 Hz; 3.74 samples a point, 9 points, 5 sweeps are 168.3 samples,
    /// and 10 log10(1 + 3 / sqrt(168.3)) is 0.9034 dB (numpy 2.4.6).
    #[test]
    fn neighbours_within_reach_calm_the_noise() {
        assert_eq!(reach(&look().settings), 4);
        assert!((noise_height(&look()).get() - 0.903_4).abs() < 1e-4, "{}", noise_height(&look()));
    }
}
