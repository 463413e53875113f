//! One sweep: from point to point what was there at its own instant, behind the filters, through the detector.

use std::sync::Arc;
use std::time::Duration;

use spurline_clock::Moment;
use spurline_units::{Hertz, Seconds, Watts};

use super::front_end::FrontEnd;
use super::settings::Settings;
use super::view::{LookedAt, Swing, View};
use crate::draw::Draws;
use crate::physics::detector::{Detection, Looking};
use crate::physics::envelope::Envelope;
use crate::physics::filter::Filter;
use crate::physics::phase_noise::Skirts;
use crate::physics::sweep_rate::SweepRate;

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

/// Within so many nanoseconds nothing on the bench changes that shows.
const AT_ONCE: f64 = 100e3;
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
        // What the last sweep saw at its end is mostly what this one sees.
        let mut view = self.view_for(settings, sweep.start);
        let at_once = (AT_ONCE / sweep.dwell).max(1.0) as usize;
        let mut next_look = 0;
        let mut swing = None;
        for point in 0..settings.points as usize {
            if point == next_look {
                next_look += at_once;
                let at = sweep.instant(point);
                let state = self.state(at);
                swing = sweep.swing(self.envelope(at), swing);
                if !view.as_ref().is_some_and(|known| known.is_of(state)) {
                    let scene = self.scene(settings, state, at, sweep.rate.loss());
                    view = Some(View::new(&sweep.looked_at(), self.skirts(), state, scene));
                }
            }
            let Some(view) = &mut view else { continue };
            trace.overload |= view.overload();
            let level = sweep.level(view, self.skirts(), swing.as_ref(), point, &mut draws);
            trace.levels.push(self.shown(level, settings));
        }
        self.keep(view);
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

    /// What a view of it must know.
    fn looked_at(&self) -> LookedAt<'a> {
        LookedAt {
            settings: self.settings,
            swept: self.swept,
            noise: self.noise,
            noise_bandwidth: self.noise_bandwidth,
        }
    }

    /// How what is modulated in voltage goes up and down from a key down on; `known` is what it was before.
    fn swing(&self, envelope: Option<(Envelope, Moment)>, known: Option<Swing>) -> Option<Swing> {
        let (whole, since) = envelope?;
        let late = since.since(self.start).as_secs_f64();
        let start = if late > 0.0 { -late } else { self.start.since(since).as_secs_f64() };
        if known.as_ref().is_some_and(|known| known.start == start && known.whole == whole) {
            return known;
        }
        let Settings { detector, .. } = *self.settings;
        let envelope = whole.behind(self.swept, Hertz::new(self.settings.vbw()), detector);
        Some(Swing { whole, envelope, detector, start, dwell: self.dwell / 1e9 })
    }

    /// When a point is passed.
    fn instant(&self, point: usize) -> Moment {
        self.start.after(Duration::from_nanos(((point as f64 + 0.5) * self.dwell) as u64))
    }

    /// What the detector makes of a point, in dBm.
    fn level(
        &self,
        view: &mut View,
        skirts: Option<&Skirts>,
        swing: Option<&Swing>,
        point: usize,
        draws: &mut Draws,
    ) -> f64 {
        let centre = self.first + self.step * point as f64;
        let noise = skirts.map_or(self.noise.get(), |skirts| {
            self.noise.get() + view.skirts(skirts, self.noise_bandwidth, centre)
        });
        let noise_level = if skirts.is_some() { Watts::new(noise).to_dbm().get() } else { self.noise_level };
        let (low, high) = (centre - 0.5 * self.step, centre + 0.5 * self.step);
        noise_level + self.detection.detect(&view.bucket(point, (low, high), noise, swing), draws)
    }
}
