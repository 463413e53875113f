//! How the power of a carrier goes that is modulated in voltage, as it is seen behind the filters.
//!
//! A filter that lets both sidebands of a tone pass shows the whole swing; one that weakens them shows so much less of it,
//! and one that tells them from the carrier shows three steady lines.

use std::f64::consts::TAU;

use spurline_units::Hertz;

use super::detector::Detector;
use super::filter::Filter;

/// The tones of a carrier's voltage, each 1 + m cos wt.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Envelope {
    tones: Vec<Tone>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Tone {
    depth: f64,
    /// In hertz.
    tone: f64,
    /// The mean of the power before anything behind the resolution filter smooths it.
    mean: f64,
}

impl Envelope {
    /// Of tones by their depths, from 0 to 1; `None` without any.
    pub(crate) fn new(tones: impl Iterator<Item = (f64, Hertz)>) -> Option<Self> {
        let tone = |(depth, tone): (f64, Hertz)| Tone { depth, tone: tone.get(), mean: mean_power(depth) };
        let tones: Vec<Tone> = tones.map(tone).collect();
        (!tones.is_empty()).then_some(Self { tones })
    }

    /// What a resolution filter leaves of it, and a detector behind a video filter of this width.
    pub(crate) fn behind(&self, filter: Filter, video: Hertz, detector: Detector) -> Self {
        let bandwidth = filter.bandwidth();
        // Averages are taken before the video filter, which does nothing if it is wider.
        let open = matches!(detector, Detector::Rms | Detector::Average) || video >= bandwidth;
        let passed = |tone: &Tone| {
            let depth = tone.depth * filter.passes(tone.tone).sqrt();
            let smoothed = if open { depth } else { depth / (tone.tone / video.get()).hypot(1.0) };
            Tone { depth: smoothed, mean: mean_power(depth), ..*tone }
        };
        Self { tones: self.tones.iter().filter(|tone| tone.tone < bandwidth.get()).map(passed).collect() }
    }

    /// What a detector makes of it between two times in seconds, as a power over the mean.
    pub(crate) fn shown(&self, detector: Detector, from: f64, to: f64) -> f64 {
        self.tones.iter().map(|tone| tone.shown(detector, from, to)).product()
    }
}

/// Mean of (1 + m cos)².
fn mean_power(depth: f64) -> f64 {
    1.0 + depth * depth / 2.0
}

impl Tone {
    fn shown(&self, detector: Detector, from: f64, to: f64) -> f64 {
        // Turns are counted from the last whole one before, so that no figure is large.
        let start = (from * self.tone).fract();
        let turns = (to - from) * self.tone;
        let end = start + turns;
        let cos = |turn: f64| (TAU * turn).cos();
        let sin = |turn: f64| (TAU * turn).sin();
        let m = self.depth;
        let power = match detector {
            Detector::Sample => (1.0 + m * cos(start + turns / 2.0)).powi(2),
            Detector::Positive if end.floor() >= start.ceil() => (1.0 + m).powi(2),
            Detector::Positive => (1.0 + m * cos(start).max(cos(end))).powi(2),
            Detector::Negative if (end - 0.5).floor() >= (start - 0.5).ceil() => (1.0 - m).powi(2),
            Detector::Negative => (1.0 + m * cos(start).min(cos(end))).powi(2),
            // The mean of so short a stretch is its middle.
            _ if turns < SHORT => (1.0 + m * cos(start + turns / 2.0)).powi(2),
            Detector::Average => (1.0 + m * (sin(end) - sin(start)) / (TAU * turns)).powi(2),
            Detector::Rms => {
                let first = (sin(end) - sin(start)) / (TAU * turns);
                let second = (sin(2.0 * end) - sin(2.0 * start)) / (2.0 * TAU * turns);
                1.0 + 2.0 * m * first + m * m / 2.0 * (1.0 + second)
            }
        };
        power / self.mean
    }
}

/// In turns of the tone.
const SHORT: f64 = 1e-3;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::filter::Shape;

    const DETECTORS: [Detector; 5] =
        [Detector::Positive, Detector::Negative, Detector::Sample, Detector::Average, Detector::Rms];

    /// Against the definition, at 20 001 instants of each stretch.
    #[test]
    fn detectors_show_what_the_envelope_does() {
        let (m, tone) = (0.6, 100.0);
        let envelope = Envelope::new([(m, Hertz::new(tone))].into_iter()).unwrap();
        for (from, to) in
            [(0.0, 1e-6), (0.0012, 0.0019), (0.004, 0.0071), (0.0081, 0.0123), (7.003, 7.013), (1.0, 9.4)]
        {
            let at = |i: u32| from + (to - from) * f64::from(i) / 20_000.0;
            let voltage = |t: f64| (1.0 + m * (TAU * tone * t).cos()) / (1.0 + m * m / 2.0f64).sqrt();
            let all: Vec<f64> = (0..=20_000).map(|i| voltage(at(i))).collect();
            let mean = |of: fn(f64) -> f64| all.iter().map(|v| of(*v)).sum::<f64>() / all.len() as f64;
            for detector in DETECTORS {
                let expected = match detector {
                    Detector::Positive => all.iter().copied().fold(0.0, f64::max).powi(2),
                    Detector::Negative => all.iter().copied().fold(9.0, f64::min).powi(2),
                    Detector::Sample => all[10_000].powi(2),
                    Detector::Average => mean(|v| v).powi(2),
                    Detector::Rms => mean(|v| v * v),
                };
                let found = envelope.shown(detector, from, to);
                assert!(
                    (found / expected - 1.0).abs() < 2e-3,
                    "{detector:?} {from}..{to}: {found} {expected}"
                );
            }
        }
    }

    /// Closed forms: sidebands that pass with -3 dB leave 0.7071 of the depth, a video filter as wide as the tone once
    /// more; sidebands that are told apart leave none.
    #[test]
    fn filters_take_from_the_depth() {
        let tone = Hertz::new(1e3);
        let envelope = Envelope::new([(0.5, tone)].into_iter()).unwrap();
        let gaussian = |hertz| Filter::new(Shape::Gaussian, Hertz::new(hertz));
        let highest = |filter, video, detector| {
            let seen = envelope.behind(filter, Hertz::new(video), detector);
            seen.shown(detector, 0.0, 10.0)
        };
        let depth = 0.5 / 2f64.sqrt();
        let mean = 1.0 + depth * depth / 2.0;
        let close =
            |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        close(highest(gaussian(2e3), 2e3, Detector::Positive), (1.0 + depth).powi(2) / mean);
        close(highest(gaussian(2e3), 1e3, Detector::Positive), (1.0 + 0.25f64).powi(2) / mean);
        close(highest(gaussian(2e3), 1e3, Detector::Rms), 1.0);
        close(highest(gaussian(1e3), 1e3, Detector::Positive), 1.0);
    }
}
