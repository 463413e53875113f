//! One sweep: from point to point what was there at its own instant, behind the filters, through the detector.

use std::sync::Arc;
use std::time::Duration;

use spurline_clock::Moment;
use spurline_units::{Hertz, Seconds, Watts};

use super::front_end::{FrontEnd, Scene};
use super::nearby::Nearby;
use super::settings::Settings;
use crate::draw::Draws;
use crate::physics::detector::{Bucket, Detection, Line, Looking, signals};
use crate::physics::filter::Filter;
use crate::physics::phase_noise::PhaseNoise;
use crate::physics::sweep_rate::SweepRate;
use crate::world::{Contacts, Emission};

/// A finished sweep.
#[derive(Clone, Debug)]
pub(super) struct Trace {
    pub(super) levels: Vec<f32>,
    pub(super) settings: Settings,
    pub(super) overload: bool,
    pub(super) uncalibrated: bool,
}

/// What is the same at every point.
struct Sweep<'a> {
    settings: &'a Settings,
    /// The filter as lines meet it.
    swept: Filter,
    rate: SweepRate,
    noise: Watts,
    noise_bandwidth: Hertz,
    /// The noise in dBm.
    noise_level: f64,
    /// The frequency of the first point and the step to the next, in hertz.
    first: f64,
    step: f64,
    detection: Arc<Detection>,
    /// When it begins, and how many nanoseconds it stays in each bucket.
    start: Moment,
    dwell: f64,
}

/// What reaches the detector while the unit and the path stay as they are.
struct View {
    state: (Option<Emission>, Contacts),
    lines: Vec<Line>,
    nearby: Nearby,
    /// Those whose skirts may show above the noise.
    skirted: Vec<Line>,
}

/// A skirt that is nowhere more than this share of the noise is left out.
const HIDDEN: f64 = 1e-3;

impl FrontEnd {
    /// The sweep that ended at `end`.
    pub(super) fn sweep(&mut self, settings: &Settings, end: Moment) -> Trace {
        let mut draws = self.next_draws();
        let sweep = Sweep::new(self, settings, end);
        let mut trace = Trace {
            levels: Vec::with_capacity(settings.points as usize),
            settings: *settings,
            overload: false,
            uncalibrated: sweep.is_uncalibrated(),
        };
        let mut view: Option<View> = None;
        for point in 0..settings.points as usize {
            let at = sweep.instant(point);
            let state = self.state(at);
            if !view.as_ref().is_some_and(|known: &View| known.state == state) {
                let scene = self.scene(settings, state, at, sweep.rate.loss());
                trace.overload |= scene.overload;
                view = Some(View::new(&sweep, self.phase_noise(), state, scene));
            }
            let Some(view) = &mut view else { continue };
            let level = sweep.level(view, self.phase_noise(), point, &mut draws);
            trace.levels.push(self.shown(level, settings));
        }
        trace
    }
}

impl<'a> Sweep<'a> {
    fn new(front_end: &mut FrontEnd, settings: &'a Settings, end: Moment) -> Self {
        let time = settings.sweep_time();
        let filter = front_end.filter(settings);
        let rate = SweepRate::of(Hertz::new(settings.span), filter.bandwidth(), Seconds::new(time));
        let swept = filter.swept(rate);
        let dwell = time / f64::from(settings.points);
        let video = Hertz::new(settings.vbw());
        let noise = front_end.noise(settings, filter);
        let step = settings.span / f64::from(settings.points - 1);
        let looking = Looking {
            detector: settings.detector,
            filter,
            swept,
            video,
            width: Hertz::new(step),
            dwell: Seconds::new(dwell),
        };
        let detection = front_end.detection(looking);
        Self {
            settings,
            swept,
            rate,
            noise,
            noise_bandwidth: filter.noise_bandwidth(),
            noise_level: noise.to_dbm().get(),
            first: settings.frequency_of(0),
            step,
            detection,
            start: end.before(Duration::from_secs_f64(time)).unwrap_or(end),
            dwell: dwell * 1e9,
        }
    }

    /// Whether it is too fast for one of its filters.
    fn is_uncalibrated(&self) -> bool {
        let settings = self.settings;
        let video = SweepRate::behind(
            Hertz::new(settings.span),
            Hertz::new(settings.rbw()),
            Hertz::new(settings.vbw()),
            Seconds::new(settings.sweep_time()),
        );
        self.rate.is_uncalibrated() || video.is_uncalibrated()
    }

    /// When a point is passed.
    fn instant(&self, point: usize) -> Moment {
        self.start.after(Duration::from_nanos(((point as f64 + 0.5) * self.dwell) as u64))
    }

    /// What the detector makes of a point, in dBm.
    fn level(
        &self,
        view: &mut View,
        phase_noise: Option<&PhaseNoise>,
        point: usize,
        draws: &mut Draws,
    ) -> f64 {
        let centre = self.first + self.step * point as f64;
        let noise =
            phase_noise.map_or(self.noise.get(), |noise| self.noise.get() + view.skirts(self, noise, centre));
        let noise_level =
            if phase_noise.is_some() { Watts::new(noise).to_dbm().get() } else { self.noise_level };
        let bucket = Bucket {
            low: centre - 0.5 * self.step,
            high: centre + 0.5 * self.step,
            noise,
            lines: &view.lines,
            near: view.nearby.at(point),
        };
        noise_level + self.detection.detect(&bucket, draws)
    }
}

impl View {
    fn new(
        sweep: &Sweep<'_>,
        phase_noise: Option<&PhaseNoise>,
        state: (Option<Emission>, Contacts),
        scene: Scene,
    ) -> Self {
        let mut lines = scene.lines;
        let signals = signals(&mut lines, sweep.swept.bandwidth());
        let nearby = Nearby::new(&lines, &signals, sweep.swept, sweep.noise, sweep.settings);
        let skirted = phase_noise.map_or_else(Vec::new, |noise| {
            let least = HIDDEN * sweep.noise.get() / noise.most(sweep.noise_bandwidth);
            let whole = signals.iter().map(|signal| signal.whole(&lines));
            whole.filter(|line| line.power.get() > least).collect()
        });
        Self { state, lines, nearby, skirted }
    }

    /// The power of all skirts behind the filter, in watts.
    fn skirts(&self, sweep: &Sweep<'_>, noise: &PhaseNoise, at: f64) -> f64 {
        let skirt =
            |line: &Line| line.power.get() * noise.share(at - line.frequency.get(), sweep.noise_bandwidth);
        self.skirted.iter().map(skirt).sum()
    }
}
