//! The averaging detector for voltages: the mean of the envelope throughout a bucket.

use rand::RngExt;
use rand_distr::StandardNormal;

use super::{Bucket, Detection, moments};
use crate::draw::Draws;

/// The mean of more looks than this is normal enough.
const FEW: f64 = 12.0;
/// How finely a bucket is cut where a signal's level changes in it: pieces for each bandwidth, and at most so many.
const PIECES_PER_BANDWIDTH: f64 = 10.0;
const MOST_PIECES: f64 = 64.0;

impl Detection {
    pub(super) fn mean_voltage(&self, bucket: &Bucket<'_>, draws: &mut Draws) -> f64 {
        let looks = self.averaged;
        if looks <= FEW {
            let count = looks.round();
            let look = |i: usize| {
                let stretch = bucket.stretch(i as f64 / count, (i + 1) as f64 / count);
                bucket.envelope(self.looking.swept, stretch, draws).sqrt()
            };
            return (0..count as usize).map(look).sum::<f64>() / count;
        }
        let (mean, variance) = if bucket.near.is_empty() {
            let of_noise = moments::of_voltage(0.0);
            (of_noise.mean, of_noise.variance)
        } else {
            self.voltage_in_pieces(bucket)
        };
        (mean + draws.sample::<f64, _>(StandardNormal) * (variance / looks).sqrt()).max(f64::MIN_POSITIVE)
    }

    fn voltage_in_pieces(&self, bucket: &Bucket<'_>) -> (f64, f64) {
        let widths = (bucket.high - bucket.low) / self.looking.swept.bandwidth().get();
        let pieces = (PIECES_PER_BANDWIDTH * widths).ceil().clamp(1.0, MOST_PIECES);
        let piece = |i: usize| {
            let stretch = bucket.stretch(i as f64 / pieces, (i + 1) as f64 / pieces);
            let (snr, noise) = bucket.strongest(self.looking.swept, stretch);
            let of_look = moments::of_voltage(snr);
            (of_look.mean * noise.sqrt(), of_look.variance * noise)
        };
        let sum = (0..pieces as usize).map(piece).fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        (sum.0 / pieces, sum.1 / pieces)
    }
}
