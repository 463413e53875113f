//! One sweep: every bucket at its own frequency and its own instant.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_units::{Hertz, Seconds, Watts};

use super::front_end::{FrontEnd, Gains, Scene};
use super::settings::{Mode, Settings};
use crate::draw::Seed;
use crate::physics::detector::{Bucket, Line};
use crate::world::{Emission, Port, World};

/// The result of one acquisition.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Trace {
    pub(super) start: Hertz,
    pub(super) stop: Hertz,
    /// Displayed power of each point.
    pub(super) powers: Vec<Watts>,
    /// There was too much at the mixer.
    pub(super) overloaded: bool,
    /// The sweep was too fast for the filters.
    pub(super) uncalibrated: bool,
}

/// Everything that a sweep looks at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bench<'a> {
    pub(super) front_end: &'a FrontEnd,
    pub(super) world: &'a World,
    pub(super) seed: Seed,
}

/// How much lower a broken input reads, as a power ratio.
const BROKEN: f64 = 1e-4;

impl Trace {
    /// The frequency of a point.
    pub(super) fn frequency(&self, point: usize) -> Hertz {
        let steps = (self.powers.len() - 1).max(1) as f64;
        self.start + (self.stop - self.start) * (point as f64 / steps)
    }

    /// The point nearest to a frequency.
    pub(super) fn nearest(&self, frequency: Hertz) -> usize {
        let last = self.powers.len() - 1;
        let span = self.stop - self.start;
        if span.get() <= 0.0 {
            return 0;
        }
        let place = (frequency - self.start) / span * last as f64;
        place.round().clamp(0.0, last as f64) as usize
    }

    /// The highest point.
    pub(super) fn peak(&self) -> usize {
        (0..self.powers.len()).max_by(|a, b| self.powers[*a].get().total_cmp(&self.powers[*b].get())).unwrap_or(0)
    }

    /// Takes in one more sweep of the same acquisition, `done` having gone before.
    fn merge(&mut self, other: &Self, mode: Mode, done: u32) {
        self.overloaded |= other.overloaded;
        for (held, new) in self.powers.iter_mut().zip(&other.powers) {
            *held = match mode {
                Mode::Write => *new,
                Mode::MaxHold => held.max(*new),
                Mode::Average => (*held * f64::from(done) + *new) / f64::from(done + 1),
            };
        }
    }
}

impl Bench<'_> {
    /// All sweeps of an acquisition that began at `start`; the first has the number `first`.
    pub(super) fn acquire(&self, settings: &Settings, start: Moment, first: u64) -> Trace {
        let time = settings.sweep_time();
        let begin = |i: u32| start.after((time * f64::from(i)).duration());
        let sweep = |i: u32| self.sweep(settings, begin(i), first + u64::from(i));
        if settings.mode == Mode::Write {
            return sweep(settings.count - 1);
        }
        let mut trace = sweep(0);
        for i in 1..settings.count {
            trace.merge(&sweep(i), settings.mode, i);
        }
        trace
    }

    /// One sweep that began at `start`.
    pub(super) fn sweep(&self, settings: &Settings, start: Moment, number: u64) -> Trace {
        let mut draws = self.seed.stream("analyser sweep", number);
        let gains = Gains { attenuation: settings.attenuation(), preamplifier: settings.preamplifier };
        let walk = Walk::new(settings);
        let mut seen: Option<(Option<Emission>, Scene)> = None;
        let mut overloaded = false;
        let powers = (0..settings.points)
            .map(|point| {
                let at = start.after(walk.middle(point));
                let emission = self.world.emission(at);
                let scene = match seen.take() {
                    Some((before, scene)) if before == emission => scene,
                    _ => self.scene(emission, gains, &walk),
                };
                overloaded |= scene.overloaded;
                let bucket = self.bucket(settings, &walk, point, gains, &scene.lines);
                let power = bucket.detect(settings.detector, &mut draws);
                seen = Some((emission, scene));
                if self.world.is_damaged(at) { power * BROKEN } else { power }
            })
            .collect();
        let uncalibrated = settings.rate().is_uncalibrated() || settings.video_lags();
        Trace { start: settings.start(), stop: settings.stop(), powers, overloaded, uncalibrated }
    }

    /// The lines as the sweep meets them: weakened by its hurry.
    fn scene(&self, emission: Option<Emission>, gains: Gains, walk: &Walk) -> Scene {
        let mut scene = self.front_end.scene(&self.world.lines(Port::Analyser, emission), gains);
        for line in &mut scene.lines {
            line.power = line.power * walk.kept;
        }
        scene
    }

    fn bucket<'s>(
        &self,
        settings: &Settings,
        walk: &Walk,
        point: usize,
        gains: Gains,
        lines: &'s [Line],
    ) -> Bucket<'s> {
        let centre = walk.centre(point);
        let half = walk.spacing / 2.0;
        let bandwidth = settings.rbw();
        Bucket {
            low: centre - half,
            high: centre + half,
            dwell: walk.dwell,
            filter: crate::physics::filter::Gaussian::new(bandwidth).swept(settings.rate()),
            bandwidth,
            video: settings.vbw(),
            noise: self.front_end.noise(gains, bandwidth, centre),
            lines,
        }
    }
}

/// How the sweep goes from point to point.
struct Walk {
    start: Hertz,
    spacing: Hertz,
    dwell: Seconds,
    /// Share of a line's power that the sweep's hurry leaves.
    kept: f64,
}

impl Walk {
    fn new(settings: &Settings) -> Self {
        Self {
            start: settings.start(),
            spacing: settings.span() / (settings.points - 1).max(1) as f64,
            dwell: settings.sweep_time() / settings.points as f64,
            kept: (-settings.rate().loss()).power_ratio(),
        }
    }

    fn centre(&self, point: usize) -> Hertz {
        self.start + self.spacing * point as f64
    }

    /// The time from the start of the sweep to the middle of a bucket.
    fn middle(&self, point: usize) -> Duration {
        (self.dwell * (point as f64 + 0.5)).duration()
    }
}
