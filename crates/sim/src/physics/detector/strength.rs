//! How strong the signals of a bucket are against its noise, wherever in the bucket they are looked at.

use std::f64::consts::TAU;

use num_complex::Complex64;
use rand::RngExt;

use super::{Bucket, Signal, unit_noise};
use crate::draw::Draws;
use crate::physics::filter::{Filter, Mean};
use crate::physics::line::Line;

/// Where in a stretch, from its lower to its upper edge in hertz, a signal is looked at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) reach: Reach,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reach {
    Centre,
    Nearest,
    Farthest,
}

/// Of more signals than this the weaker ones count as noise.
const BEATING: usize = 8;

impl Stretch {
    fn position(self, line: f64) -> f64 {
        let (low, high) = (self.low, self.high);
        match self.reach {
            Reach::Centre => f64::midpoint(low, high),
            Reach::Nearest => line.clamp(low, high),
            Reach::Farthest if line - low > high - line => low,
            Reach::Farthest => high,
        }
    }
}

impl Bucket<'_> {
    /// The part of the bucket between two shares of its width, looked at in its middle.
    pub(super) fn stretch(&self, from: f64, to: f64) -> Stretch {
        let (low, width) = (self.low, self.high - self.low);
        Stretch { low: low + width * from, high: low + width * to, reach: Reach::Centre }
    }

    /// Power of a signal over the noise at one place of a stretch.
    pub(super) fn snr(&self, filter: Filter, signal: Signal, stretch: Stretch) -> f64 {
        let lines = signal.of(self.lines);
        let passed = |at: f64, line: &Line| line.power.get() * filter.passes(at - line.frequency.get());
        let power: f64 = match lines {
            [line] => passed(stretch.position(line.frequency.get()), line),
            _ => {
                let at = stretch.position(signal.peak(self.lines).frequency.get());
                lines.iter().map(|line| passed(at, line)).sum()
            }
        };
        power * signal.swing / self.noise
    }

    /// Mean power of all signals over the noise throughout the bucket; where they beat, in so many looks.
    pub(super) fn mean_snr(&self, mean: &Mean, looks: f64, draws: &mut Draws) -> f64 {
        let middle = 0.5 * (self.low + self.high);
        let passed = |line: &Line| line.power.get() * mean.passes(middle - line.frequency.get());
        let snr = |signal: &Signal| {
            signal.of(self.lines).iter().map(passed).sum::<f64>() * signal.swing / self.noise
        };
        if let [signal] = self.near {
            return snr(signal);
        }
        let (mut sum, mut voltage) = (0.0, Complex64::new(0.0, 0.0));
        for signal in self.near {
            let snr = snr(signal);
            sum += snr;
            voltage += Complex64::from_polar(snr.sqrt(), draws.random::<f64>() * TAU);
        }
        // One look shows the beat as it is, the mean of several the less of it.
        (sum + (voltage.norm_sqr() - sum) / looks.sqrt()).max(0.0)
    }

    /// The strongest signal over everything else, and the power of everything else over the noise.
    pub(super) fn strongest(&self, filter: Filter, stretch: Stretch) -> (f64, f64) {
        let (mut most, mut sum) = (0.0f64, 0.0);
        for signal in self.near {
            let snr = self.snr(filter, *signal, stretch);
            most = most.max(snr);
            sum += snr;
        }
        let others = 1.0 + (sum - most).max(0.0);
        (most / others, others)
    }

    /// What the signals make together at one look, and the power of the noise and of what counts as noise.
    pub(super) fn beat(&self, filter: Filter, stretch: Stretch, draws: &mut Draws) -> (Complex64, f64) {
        let mut strong = [0.0; BEATING];
        let mut noise = 1.0;
        for signal in self.near {
            let mut snr = self.snr(filter, *signal, stretch);
            for place in &mut strong {
                if snr > *place {
                    std::mem::swap(place, &mut snr);
                }
            }
            noise += snr;
        }
        let mut voltage = Complex64::new(0.0, 0.0);
        for (place, snr) in strong.iter().enumerate().take_while(|(_, snr)| **snr > 0.0) {
            // Lines at different frequencies beat: from look to look their phases are unrelated.
            let angle = if place == 0 { 0.0 } else { draws.random::<f64>() * TAU };
            voltage += Complex64::from_polar(snr.sqrt(), angle);
        }
        (voltage, noise)
    }

    /// Power of one look behind the resolution filter: signals and noise as voltages.
    pub(super) fn envelope(&self, filter: Filter, stretch: Stretch, draws: &mut Draws) -> f64 {
        if self.near.is_empty() {
            return unit_noise(draws).norm_sqr();
        }
        let (voltage, noise) = self.beat(filter, stretch, draws);
        (voltage + unit_noise(draws) * noise.sqrt()).norm_sqr()
    }
}
