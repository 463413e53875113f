//! What an analyser is set to, and how settings that are left to it follow from the others.

use spurline_units::{Db, Dbm, Hertz, Range, Seconds};

use crate::instruments::call::Bounds;
use crate::physics::detector::Detector;
use crate::physics::filter::SweepRate;

/// The settings of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Settings {
    /// What the analyser can tune to.
    pub(super) range: Range<Hertz>,
    start: f64,
    stop: f64,
    /// Resolution bandwidth; coupled to the span if not stated.
    pub(super) bandwidth: Coupled,
    /// Video bandwidth; coupled to the resolution bandwidth if not stated.
    pub(super) video: Coupled,
    /// Sweep time in seconds; as short as the filters allow if not stated.
    pub(super) time: Coupled,
    /// Attenuation in dB; coupled to the reference level if not stated.
    pub(super) attenuation: Coupled,
    pub(super) points: usize,
    pub(super) count: u32,
    pub(super) detector: Detector,
    pub(super) mode: Mode,
    pub(super) reference: Dbm,
    pub(super) preamplifier: bool,
}

/// A setting that may be left to the instrument; the stated value is kept while it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Coupled {
    pub(super) stated: f64,
    pub(super) automatic: bool,
}

/// What the sweeps of one acquisition become.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    /// The last one stays.
    Write,
    /// The highest at each point.
    MaxHold,
    /// The mean power at each point.
    Average,
}

pub(super) const BANDWIDTHS: Bounds = Bounds { low: 10.0, high: 3e6, default: 3e6 };
pub(super) const VIDEO_BANDWIDTHS: Bounds = Bounds { low: 1.0, high: 1e7, default: 3e6 };
pub(super) const TIMES: Bounds = Bounds { low: 1e-3, high: 4000.0, default: 1e-3 };
/// More points than this would not pass a socket's buffer at once.
pub(super) const POINTS: Bounds = Bounds { low: 2.0, high: 10_001.0, default: 1001.0 };
pub(super) const COUNTS: Bounds = Bounds { low: 1.0, high: 1000.0, default: 1.0 };
pub(super) const ATTENUATIONS: Bounds = Bounds { low: 0.0, high: 50.0, default: 10.0 };
pub(super) const REFERENCES: Bounds = Bounds { low: -130.0, high: 30.0, default: 0.0 };
/// The step of the attenuator in dB.
pub(super) const ATTENUATOR_STEP: f64 = 10.0;

/// How slowly a coupled sweep passes a line: makers take 2 to 3 for a filter near to Gaussian.
const SWEEP_FACTOR: f64 = 2.5;
/// The shortest time that the digitiser needs for a point, in seconds.
const TIME_PER_POINT: f64 = 1e-6;
/// A coupled attenuator keeps a line at the reference level at or below this at the mixer, in dBm.
const COUPLED_MIXER_LEVEL: f64 = -10.0;
/// A coupled filter is this much narrower than the span.
const SPAN_TO_BANDWIDTH: f64 = 100.0;

impl Settings {
    /// The settings after a reset.
    pub(super) fn new(range: Range<Hertz>) -> Self {
        let coupled = |stated| Coupled { stated, automatic: true };
        Self {
            range,
            start: range.low().get(),
            stop: range.high().get(),
            bandwidth: coupled(BANDWIDTHS.default),
            video: coupled(VIDEO_BANDWIDTHS.default),
            time: coupled(TIMES.default),
            attenuation: coupled(ATTENUATIONS.default),
            points: POINTS.default as usize,
            count: 1,
            detector: Detector::Positive,
            mode: Mode::Write,
            reference: Dbm::new(REFERENCES.default),
            preamplifier: false,
        }
    }

    pub(super) fn start(&self) -> Hertz {
        Hertz::new(self.start)
    }

    pub(super) fn stop(&self) -> Hertz {
        Hertz::new(self.stop)
    }

    pub(super) fn centre(&self) -> Hertz {
        Hertz::new(f64::midpoint(self.start, self.stop))
    }

    pub(super) fn span(&self) -> Hertz {
        Hertz::new(self.stop - self.start)
    }

    /// Keeps the span if it fits, else narrows it, as analysers do.
    pub(super) fn set_centre(&mut self, centre: f64) {
        let half = (self.span().get() / 2.0).min(self.room(centre));
        (self.start, self.stop) = (centre - half, centre + half);
    }

    /// Keeps the centre; tells whether the whole span fits around it.
    pub(super) fn set_span(&mut self, span: f64) -> bool {
        let centre = self.centre().get();
        let half = (span / 2.0).min(self.room(centre));
        (self.start, self.stop) = (centre - half, centre + half);
        half >= span / 2.0
    }

    /// The stop frequency moves along if it would be below.
    pub(super) fn set_start(&mut self, start: f64) {
        (self.start, self.stop) = (start, self.stop.max(start));
    }

    /// The start frequency moves along if it would be above.
    pub(super) fn set_stop(&mut self, stop: f64) {
        (self.start, self.stop) = (self.start.min(stop), stop);
    }

    fn room(&self, centre: f64) -> f64 {
        (centre - self.range.low().get()).min(self.range.high().get() - centre).max(0.0)
    }

    /// The resolution bandwidth in use.
    pub(super) fn rbw(&self) -> Hertz {
        let coupled = self.span().get() / SPAN_TO_BANDWIDTH;
        let value = if self.bandwidth.automatic && coupled > 0.0 { coupled } else { self.bandwidth.stated };
        Hertz::new(step(value, BANDWIDTHS))
    }

    /// The video bandwidth in use.
    pub(super) fn vbw(&self) -> Hertz {
        let value = if self.video.automatic { self.rbw().get() } else { self.video.stated };
        Hertz::new(step(value, VIDEO_BANDWIDTHS))
    }

    /// The time of one sweep.
    pub(super) fn sweep_time(&self) -> Seconds {
        if !self.time.automatic {
            return Seconds::new(self.time.stated);
        }
        let filters = SweepRate::time(SWEEP_FACTOR, self.span(), self.rbw(), self.vbw()).get();
        let digitiser = TIME_PER_POINT * self.points as f64;
        Seconds::new(filters.max(digitiser).clamp(TIMES.low, TIMES.high))
    }

    /// How slowly the sweep passes a line.
    pub(super) fn rate(&self) -> SweepRate {
        SweepRate::of(self.span(), self.rbw(), self.sweep_time())
    }

    /// Whether the video filter cannot follow the sweep.
    pub(super) fn video_lags(&self) -> bool {
        let needed = SweepRate::time(2.0, self.span(), self.rbw(), self.vbw());
        self.sweep_time() < needed
    }

    /// The attenuation in use.
    pub(super) fn attenuation(&self) -> Db {
        if !self.attenuation.automatic {
            return Db::new(self.attenuation.stated);
        }
        let needed = self.reference.get() - COUPLED_MIXER_LEVEL;
        Db::new(attenuator_step(needed.clamp(ATTENUATIONS.low, ATTENUATIONS.high)))
    }
}

/// The nearest bandwidth of the sequence 1, 3, 10 in ratio.
pub(super) fn step(value: f64, bounds: Bounds) -> f64 {
    let decade = 10f64.powi(value.log10().floor() as i32);
    [1.0, 3.0, 10.0]
        .map(|factor| factor * decade)
        .into_iter()
        .min_by(|a, b| (a / value).ln().abs().total_cmp(&(b / value).ln().abs()))
        .unwrap_or(value)
        .clamp(bounds.low, bounds.high)
}

/// The attenuator's step at or above a value: in doubt it protects the mixer.
pub(super) fn attenuator_step(value: f64) -> f64 {
    (value / ATTENUATOR_STEP).ceil() * ATTENUATOR_STEP
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> Settings {
        Settings::new(Range::new(Hertz::new(9e3), Hertz::new(3e9)).unwrap())
    }

    #[test]
    fn bandwidths_go_to_the_nearest_step() {
        for (asked, got) in
            [(90e3, 100e3), (30e3, 30e3), (50e3, 30e3), (60e3, 100e3), (12.0, 10.0), (2e6, 3e6), (1e3, 1e3)]
        {
            assert_eq!(step(asked, BANDWIDTHS), got, "{asked}");
        }
    }

    #[test]
    fn centre_and_span_stay_in_range() {
        let mut settings = settings();
        settings.set_centre(145e6);
        assert_eq!(settings.start().get(), 9e3);
        assert!(settings.set_span(1e6));
        assert_eq!((settings.start().get(), settings.stop().get()), (144.5e6, 145.5e6));
        settings.set_start(200e6);
        assert_eq!((settings.start().get(), settings.span().get()), (200e6, 0.0));
        settings.set_centre(2.9e9);
        assert!(!settings.set_span(1e9));
        assert!((settings.stop().get() - 3e9).abs() < 1e-3);
    }

    /// Swept-analyser rule k · span / RBW² with k = 2.5: 10 MHz at 10 kHz in 0.25 s.
    #[test]
    fn left_alone_the_rest_follows() {
        let mut settings = settings();
        settings.set_centre(145e6);
        settings.set_span(10e6);
        assert_eq!((settings.rbw().get(), settings.vbw().get()), (100e3, 100e3));
        settings.bandwidth = Coupled { stated: 10e3, automatic: false };
        assert_eq!(settings.sweep_time(), Seconds::new(0.25));
        assert_eq!(settings.attenuation(), Db::new(10.0));
        settings.reference = Dbm::new(-60.0);
        assert_eq!(settings.attenuation(), Db::new(0.0));
        settings.reference = Dbm::new(11.0);
        assert_eq!(settings.attenuation(), Db::new(30.0));
    }
}
