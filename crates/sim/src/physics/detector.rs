//! What a detector makes of noise and lines within one bucket of a sweep, with the right statistics.
//!
//! The envelope of noise behind the filter is Rayleigh, with a line in it Rician. Averaging detectors see
//! `1.505 · B · dwell` independent looks behind a Gaussian filter, peak detectors `3.2 · B · dwell`: a continuous
//! envelope peaks more often than it is independent. Looks are not drawn one by one where the distribution of their
//! mean or of their extreme is known; the tests hold this against drawing every one of them.

#[cfg(test)]
mod drawn;
mod extreme;
mod moments;
mod phases;
mod rice;
mod shares;
mod signal;
mod special;
mod strength;
mod video;
mod voltage;

use num_complex::Complex64;
use rand::RngExt;
use rand_distr::{Distribution, Gamma, StandardNormal};
use spurline_units::{Hertz, Seconds};

use crate::draw::Draws;
#[cfg(test)]
use crate::physics::filter::Shape;
use crate::physics::filter::{Filter, Mean};
use crate::physics::line::Line;
use extreme::Extreme;
use shares::Shares;
pub(crate) use signal::{Signal, signals};
use video::Video;

/// How the samples within one bucket become one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Detector {
    /// The highest.
    Positive,
    /// The lowest.
    Negative,
    /// One of them.
    Sample,
    /// The mean of the envelope voltage, which reads noise 1.05 dB low.
    Average,
    /// The mean power.
    Rms,
}

/// The stretch of a sweep that becomes one point of the trace.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bucket<'a> {
    /// Frequency at its lower edge, in hertz; equal to `high` when the span is zero.
    pub(crate) low: f64,
    /// Frequency at its upper edge, in hertz.
    pub(crate) high: f64,
    /// Mean noise power behind the resolution filter, in watts, above zero.
    pub(crate) noise: f64,
    /// All lines of the scene.
    pub(crate) lines: &'a [Line],
    /// Those of its signals that are near enough to matter.
    pub(crate) near: &'a [Signal],
}

/// How buckets are looked at throughout a sweep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Looking {
    pub(crate) detector: Detector,
    /// The resolution filter.
    pub(crate) filter: Filter,
    /// The same as lines meet it.
    pub(crate) swept: Filter,
    /// The width of the video filter; wider than the resolution filter it does nothing.
    pub(crate) video: Hertz,
    /// The width of a bucket; zero when the span is.
    pub(crate) width: Hertz,
    /// The time that the sweep spends in it.
    pub(crate) dwell: Seconds,
}

/// Everything about detection that is worked out once for a sweep.
#[derive(Clone, Debug)]
pub(crate) struct Detection {
    looking: Looking,
    /// Independent looks in a bucket, for averages.
    averaged: f64,
    /// The same for extremes.
    extreme: f64,
    shares: Shares,
    mean: Mean,
    video: Video,
    /// The sum of all the averaged looks at noise of power 1, and of all but one.
    sums: Option<(Gamma<f64>, Option<Gamma<f64>>)>,
}

/// From this power over the noise on, a line is strong.
const STRONG: f64 = 1e3;
/// Looks for extremes over looks for averages: 3.2 over 1.505 at a Gaussian filter (numpy 2.4.6, simulation of 2^22
/// samples), taken for the other shapes too.
const EXTREMES_PER_AVERAGE: f64 = 3.2 / 1.505;

impl Detection {
    /// Works out what does not change from bucket to bucket.
    pub(crate) fn new(looking: Looking) -> Self {
        let Looking { filter, swept, video, width, dwell, .. } = looking;
        let looks = |per_unit: f64, width: Hertz| (per_unit * width.get() * dwell.get()).max(1.0);
        let per_unit = filter.shape().looks();
        let bandwidth = filter.bandwidth();
        let averaged = looks(per_unit, bandwidth);
        let extreme = looks(per_unit * EXTREMES_PER_AVERAGE, bandwidth.min(video));
        let sum = |looks: f64| Gamma::new(looks, 1.0).ok();
        Self {
            looking,
            averaged,
            extreme,
            shares: Shares::new(extreme),
            mean: swept.over(width.get()),
            video: Video::new(bandwidth / video),
            sums: sum(averaged).map(|all| (all, (averaged > 1.0).then(|| sum(averaged - 1.0)).flatten())),
        }
    }

    /// Whether it is for looking in this way.
    pub(crate) fn is_for(&self, looking: &Looking) -> bool {
        self.looking == *looking
    }

    /// How far what the detector shows is above the mean noise power, in dB.
    pub(crate) fn detect(&self, bucket: &Bucket<'_>, draws: &mut Draws) -> f64 {
        // Extremes are found as logarithms.
        let shown = match self.looking.detector {
            Detector::Rms => (self.mean_power(bucket, draws)).ln(),
            Detector::Average => 2.0 * (self.mean_voltage(bucket, draws)).ln(),
            Detector::Sample => (self.sample(bucket, draws)).ln(),
            Detector::Positive => self.extreme(bucket, Extreme::Highest, draws),
            Detector::Negative => self.extreme(bucket, Extreme::Lowest, draws),
        };
        10.0 / std::f64::consts::LN_10 * shown
    }

    /// Mean of `n` looks with the same line power: a non-central chi-square with 2 n degrees of freedom.
    fn mean_power(&self, bucket: &Bucket<'_>, draws: &mut Draws) -> f64 {
        let n = self.averaged;
        let Some((all, others)) = &self.sums else { return 1.0 };
        if bucket.near.is_empty() {
            return all.sample(draws) / n;
        }
        let snr = bucket.mean_snr(&self.mean, n, draws);
        if snr > STRONG {
            // Noise across the line and the other looks' own noise scatter by less than 0.01 dB here.
            let along = draws.sample::<f64, _>(StandardNormal) * std::f64::consts::FRAC_1_SQRT_2;
            return ((along + (n * snr).sqrt()).powi(2) + n - 0.5) / n;
        }
        let with_line = (unit_noise(draws) + (n * snr).sqrt()).norm_sqr();
        (with_line + others.as_ref().map_or(0.0, |others| others.sample(draws))) / n
    }

    /// One look in the middle of the bucket.
    fn sample(&self, bucket: &Bucket<'_>, draws: &mut Draws) -> f64 {
        let middle = bucket.stretch(0.0, 1.0);
        if self.video.is_open() {
            return bucket.envelope(self.looking.swept, middle, draws);
        }
        let (snr, noise) = bucket.strongest(self.looking.swept, middle);
        noise * self.video.look(snr, draws)
    }
}

/// Complex noise of mean power 1.
fn unit_noise(draws: &mut Draws) -> Complex64 {
    let mut part = || draws.sample::<f64, _>(StandardNormal) * std::f64::consts::FRAC_1_SQRT_2;
    Complex64::new(part(), part())
}

/// The looks for extremes at a Gaussian filter per unit of bandwidth and time.
#[cfg(test)]
fn extreme_looks() -> f64 {
    EXTREMES_PER_AVERAGE * Shape::Gaussian.looks()
}

#[cfg(test)]
mod tests;
