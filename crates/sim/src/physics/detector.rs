//! What a detector makes of noise and lines within one bucket of a sweep, with the right statistics.
//!
//! The envelope of noise behind the filter is Rayleigh, with a line in it Rician. Averaging detectors see
//! `1.505 · B · dwell` independent looks, peak detectors `3.2 · B · dwell`: a continuous envelope peaks more often
//! than it is independent.

use std::f64::consts::TAU;

use num_complex::Complex64;
use rand::RngExt;
use rand_distr::{Distribution, Exp1, Gamma, StandardNormal};
use spurline_units::{Hertz, Seconds, Watts};

use crate::draw::Draws;
use crate::physics::filter::Gaussian;

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

/// A line as the filter meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    /// Where it stands.
    pub(crate) frequency: Hertz,
    /// Its power.
    pub(crate) power: Watts,
}

/// The stretch of a sweep that becomes one point of the trace.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bucket<'a> {
    /// Frequency at its lower edge; equal to `high` when the span is zero.
    pub(crate) low: Hertz,
    /// Frequency at its upper edge.
    pub(crate) high: Hertz,
    /// The time that the sweep spends in it.
    pub(crate) dwell: Seconds,
    /// The resolution filter as lines meet it.
    pub(crate) filter: Gaussian,
    /// The width of the resolution filter.
    pub(crate) bandwidth: Hertz,
    /// The width of the video filter; wider than the resolution filter it does nothing.
    pub(crate) video: Hertz,
    /// Mean noise power behind the resolution filter, above zero.
    pub(crate) noise: Watts,
    /// Lines near enough to matter.
    pub(crate) lines: &'a [Line],
}

/// Independent looks per unit of bandwidth and time for averages: sqrt 2 times the noise bandwidth.
const AVERAGED_LOOKS: f64 = 1.505;
/// The same for extremes.
const EXTREME_LOOKS: f64 = 3.2;
/// More looks than this at lines in one bucket are not drawn one by one; the rest is taken as noise alone.
const LOOKS_DRAWN: usize = 1024;
/// More looks than this are not averaged by the video filter: what is left then scatters by 0.35 dB.
const VIDEO_LOOKS: f64 = 256.0;
/// A line this far below the noise, as a power ratio, is left out.
const NEGLIGIBLE: f64 = 1e-5;

impl Bucket<'_> {
    /// The power that `detector` shows.
    pub(crate) fn detect(&self, detector: Detector, draws: &mut Draws) -> Watts {
        let near: Vec<Line> = self.lines.iter().copied().filter(|line| self.matters(line)).collect();
        Watts::new(match detector {
            Detector::Rms => self.mean_power(&near, draws),
            Detector::Average => self.mean_voltage(&near, draws).powi(2),
            Detector::Sample => self.look(&near, self.stretch(0, 1), Reach::Centre, draws),
            Detector::Positive => self.extreme(&near, Extreme::Highest, draws),
            Detector::Negative => self.extreme(&near, Extreme::Lowest, draws),
        })
    }

    fn matters(&self, line: &Line) -> bool {
        let f = line.frequency.get();
        let nearest = Reach::Nearest.position(self.stretch(0, 1), f);
        line.power.get() * self.filter.passes(nearest - f) > NEGLIGIBLE * self.noise.get()
    }

    fn looks(&self, per_unit: f64, bandwidth: Hertz) -> f64 {
        (per_unit * bandwidth.get() * self.dwell.get()).max(1.0)
    }

    /// Lower and upper frequency of one of `count` equal stretches of the bucket.
    fn stretch(&self, index: usize, count: usize) -> (f64, f64) {
        let width = (self.high - self.low).get() / count as f64;
        let low = self.low.get() + width * index as f64;
        (low, low + width)
    }

    /// Mean of `n` looks with the same line power: a non-central chi-square with 2 n degrees of freedom.
    fn mean_power(&self, lines: &[Line], draws: &mut Draws) -> f64 {
        let (low, high) = self.stretch(0, 1);
        let passed = |line: &Line| {
            let f = line.frequency.get();
            line.power.get() * self.filter.passes_between(low - f, high - f)
        };
        let snr = lines.iter().map(passed).sum::<f64>() / self.noise.get();
        let n = self.looks(AVERAGED_LOOKS, self.bandwidth);
        let with_line = (unit_noise(draws) + (n * snr).sqrt()).norm_sqr();
        let others = if n > 1.0 { Gamma::new(n - 1.0, 1.0).map_or(0.0, |g| g.sample(draws)) } else { 0.0 };
        self.noise.get() * (with_line + others) / n
    }

    fn mean_voltage(&self, lines: &[Line], draws: &mut Draws) -> f64 {
        let count = drawn(self.looks(AVERAGED_LOOKS, self.bandwidth));
        let look = |i| self.envelope(lines, self.stretch(i, count), Reach::Centre, draws).sqrt();
        (0..count).map(look).sum::<f64>() / count as f64
    }

    fn extreme(&self, lines: &[Line], extreme: Extreme, draws: &mut Draws) -> f64 {
        let filtered = self.video < self.bandwidth;
        let looks = self.looks(EXTREME_LOOKS, self.bandwidth.min(self.video));
        if lines.is_empty() && !filtered {
            return self.noise.get() * extreme.of_noise(looks, draws);
        }
        let count = drawn(looks);
        let look = |i| self.look(lines, self.stretch(i, count), extreme.reach(), draws);
        let seen =
            (0..count).map(look).reduce(|a, b| extreme.pick(a, b)).expect("there is at least one look");
        let beyond = looks - count as f64;
        if beyond < 1.0 || filtered || extreme == Extreme::Lowest {
            return seen;
        }
        extreme.pick(seen, self.noise.get() * extreme.of_noise(beyond, draws))
    }

    /// Power of one look behind the video filter, which averages the logarithm.
    fn look(&self, lines: &[Line], stretch: (f64, f64), reach: Reach, draws: &mut Draws) -> f64 {
        if self.video >= self.bandwidth {
            return self.envelope(lines, stretch, reach, draws);
        }
        let count = (self.bandwidth / self.video).min(VIDEO_LOOKS).round().max(1.0);
        let logs = (0..count as usize).map(|_| self.envelope(lines, stretch, reach, draws).ln());
        (logs.sum::<f64>() / count).exp()
    }

    /// Power of one look behind the resolution filter: lines and noise as voltages.
    fn envelope(&self, lines: &[Line], stretch: (f64, f64), reach: Reach, draws: &mut Draws) -> f64 {
        let noise = unit_noise(draws) * self.noise.get().sqrt();
        let voltage = lines.iter().fold(noise, |sum, line| {
            let f = line.frequency.get();
            let power = line.power.get() * self.filter.passes(reach.position(stretch, f) - f);
            // Lines at different frequencies beat: from look to look their phases are unrelated.
            sum + Complex64::from_polar(power.sqrt(), draws.random::<f64>() * TAU)
        });
        voltage.norm_sqr()
    }
}

/// Where in a stretch a line is looked at.
#[derive(Clone, Copy)]
enum Reach {
    Centre,
    Nearest,
    Farthest,
}

impl Reach {
    fn position(self, (low, high): (f64, f64), line: f64) -> f64 {
        match self {
            Self::Centre => f64::midpoint(low, high),
            Self::Nearest => line.clamp(low, high),
            Self::Farthest if line - low > high - line => low,
            Self::Farthest => high,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Extreme {
    Highest,
    Lowest,
}

impl Extreme {
    fn pick(self, a: f64, b: f64) -> f64 {
        match self {
            Self::Highest => a.max(b),
            Self::Lowest => a.min(b),
        }
    }

    fn reach(self) -> Reach {
        match self {
            Self::Highest => Reach::Nearest,
            Self::Lowest => Reach::Farthest,
        }
    }

    /// The extreme of `looks` exponential powers of mean 1, by inverting its distribution.
    fn of_noise(self, looks: f64, draws: &mut Draws) -> f64 {
        match self {
            // P(max < x) = (1 - e^-x)^looks
            Self::Highest => {
                // Between the smallest and the largest number that still have a finite logarithm on both sides.
                let u = draws.random::<f64>().clamp(1e-300, 1.0 - f64::EPSILON);
                -(-libm::expm1(u.ln() / looks)).ln()
            }
            Self::Lowest => draws.sample::<f64, _>(Exp1) / looks,
        }
    }
}

fn drawn(looks: f64) -> usize {
    (looks.round() as usize).clamp(1, LOOKS_DRAWN)
}

/// Complex noise of mean power 1.
fn unit_noise(draws: &mut Draws) -> Complex64 {
    let mut part = || draws.sample::<f64, _>(StandardNormal) * std::f64::consts::FRAC_1_SQRT_2;
    Complex64::new(part(), part())
}

#[cfg(test)]
mod tests;
