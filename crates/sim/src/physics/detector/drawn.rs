//! Detection with every look drawn by itself: what the quick ways are held against.

use num_complex::Complex64;
use rand::RngExt;

use super::strength::{Reach, Stretch};
use super::{Bucket, Detection, Detector, unit_noise};
use crate::draw::Draws;

/// How a bucket is looked at.
pub(super) struct Looks<'a> {
    pub(super) detection: &'a Detection,
    pub(super) bucket: &'a Bucket<'a>,
    /// How many logarithms the video filter averages; 1 where it does nothing.
    pub(super) logs: u32,
}

impl Looks<'_> {
    /// The power that the detector shows over the noise.
    pub(super) fn detect(&self, draws: &mut Draws) -> f64 {
        let Detection { averaged, extreme, .. } = *self.detection;
        match self.detection.looking.detector {
            Detector::Rms => mean(&self.all(averaged, Reach::Centre, draws)),
            Detector::Average => {
                let voltages = self.all(averaged, Reach::Centre, draws).into_iter().map(f64::sqrt);
                mean(&voltages.collect::<Vec<_>>()).powi(2)
            }
            Detector::Sample => mean(&self.all(1.0, Reach::Centre, draws)),
            Detector::Positive => self.all(extreme, Reach::Nearest, draws).into_iter().fold(0.0, f64::max),
            Detector::Negative => {
                self.all(extreme, Reach::Farthest, draws).into_iter().fold(f64::INFINITY, f64::min)
            }
        }
    }

    fn all(&self, looks: f64, reach: Reach, draws: &mut Draws) -> Vec<f64> {
        let count = looks.round();
        let look = |i: usize| {
            let stretch = self.bucket.stretch(i as f64 / count, (i + 1) as f64 / count);
            self.look(Stretch { reach, ..stretch }, draws)
        };
        (0..count as usize).map(look).collect()
    }

    fn look(&self, stretch: Stretch, draws: &mut Draws) -> f64 {
        let logs = (0..self.logs).map(|_| self.envelope(stretch, draws).ln()).sum::<f64>();
        (logs / f64::from(self.logs)).exp()
    }

    fn envelope(&self, stretch: Stretch, draws: &mut Draws) -> f64 {
        let signals = self.bucket.near.iter();
        let voltage: Complex64 = signals
            .map(|signal| {
                let power = self.bucket.snr(self.detection.looking.swept, *signal, stretch);
                Complex64::from_polar(power.sqrt(), draws.random::<f64>() * std::f64::consts::TAU)
            })
            .sum();
        (voltage + unit_noise(draws)).norm_sqr()
    }
}

fn mean(looks: &[f64]) -> f64 {
    looks.iter().sum::<f64>() / looks.len() as f64
}
