//! How strong the signals of a bucket are against its noise, wherever in the bucket they are looked at.

use num_complex::Complex64;

use super::phases::Phases;
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
/// So do those that are this much weaker than the strongest, as a power ratio: they would move it by 0.09 dB.
const FAINT: f64 = 1e-4;

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
        let share = 1.0 / self.noise;
        let snr =
            |signal: &Signal| signal.of(self.lines).iter().map(passed).sum::<f64>() * (signal.swing * share);
        if let [signal] = self.near {
            return snr(signal);
        }
        let mut beating = Beating::default();
        for signal in self.near {
            beating.add(snr(signal));
        }
        let voltage = beating.voltages().look(&mut Phases::new(), draws);
        let sum: f64 = beating.strong.iter().sum();
        // One look shows the beat as it is, the mean of several the less of it.
        (sum + beating.weak + (voltage.norm_sqr() - sum) / looks.sqrt()).max(0.0)
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

    /// What the signals are at one place.
    pub(super) fn beating(&self, filter: Filter, stretch: Stretch) -> Beating {
        let mut beating = Beating::default();
        for signal in self.near {
            beating.add(self.snr(filter, *signal, stretch));
        }
        beating
    }

    /// Power of one look behind the resolution filter: signals and noise as voltages.
    pub(super) fn envelope(&self, filter: Filter, stretch: Stretch, draws: &mut Draws) -> f64 {
        if self.near.is_empty() {
            return unit_noise(draws).norm_sqr();
        }
        let beating = self.beating(filter, stretch);
        let voltage = beating.voltages().look(&mut Phases::new(), draws);
        (voltage + unit_noise(draws) * beating.noise().sqrt()).norm_sqr()
    }
}

/// Signals of different oscillations at one place, by their powers over the noise.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Beating {
    /// The strongest, in falling order.
    strong: [f64; BEATING],
    /// The others together, which count as noise.
    weak: f64,
}

impl Beating {
    fn add(&mut self, power: f64) {
        let last = BEATING - 1;
        if power <= self.strong[last] || power < FAINT * self.strong[0] {
            self.weak += power;
            return;
        }
        self.weak += self.strong[last];
        let mut place = last;
        while place > 0 && self.strong[place - 1] < power {
            self.strong[place] = self.strong[place - 1];
            place -= 1;
        }
        self.strong[place] = power;
    }

    /// The power of the noise and of what counts as noise.
    pub(super) fn noise(&self) -> f64 {
        1.0 + self.weak
    }

    /// The strong ones as voltages.
    pub(super) fn voltages(&self) -> Voltages {
        let count = self.strong.iter().take_while(|power| **power > 0.0).count();
        Voltages { all: self.strong.map(f64::sqrt), count }
    }
}

/// Voltages that beat, the first so many of them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Voltages {
    all: [f64; BEATING],
    count: usize,
}

impl Voltages {
    /// What they make together at one look: from look to look their phases are unrelated.
    pub(super) fn look(&self, phases: &mut Phases, draws: &mut Draws) -> Complex64 {
        let others = self.all[..self.count].iter().skip(1);
        others.fold(Complex64::from(self.all[0]), |sum, voltage| sum + phases.next(draws) * voltage)
    }
}
