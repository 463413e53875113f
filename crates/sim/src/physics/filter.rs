//! The Gaussian resolution filter: skirt, noise bandwidth, and what a fast sweep does to it.

use std::f64::consts::{LN_2, PI};

use spurline_units::{Db, Hertz, Seconds};

/// A Gaussian filter, known by its bandwidth between the points of half power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gaussian {
    /// Bandwidth at half power, in hertz, above zero.
    bandwidth: f64,
}

impl Gaussian {
    /// A filter of this bandwidth, which is above zero.
    pub(crate) fn new(bandwidth: Hertz) -> Self {
        debug_assert!(bandwidth.get() > 0.0, "a filter has a width");
        Self { bandwidth: bandwidth.get() }
    }

    /// Equivalent noise bandwidth over bandwidth: sqrt(pi / (4 ln 2)).
    pub(crate) fn noise_factor() -> f64 {
        (PI / (4.0 * LN_2)).sqrt()
    }

    /// Bandwidth of the rectangle that passes the same noise.
    pub(crate) fn noise_bandwidth(self) -> Hertz {
        Hertz::new(Self::noise_factor() * self.bandwidth)
    }

    /// Share of a line's power that passes, the line being `offset` hertz from the filter's centre.
    pub(crate) fn passes(self, offset: f64) -> f64 {
        let x = 2.0 * offset / self.bandwidth;
        (-LN_2 * x * x).exp()
    }

    /// Mean share of a line's power that passes while the centre moves from `low` to `high`, both in hertz
    /// from the line.
    pub(crate) fn passes_between(self, low: f64, high: f64) -> f64 {
        let width = high - low;
        if width <= 1e-6 * self.bandwidth {
            return self.passes(f64::midpoint(low, high));
        }
        let scale = 2.0 * LN_2.sqrt() / self.bandwidth;
        let area = libm::erf(scale * high) - libm::erf(scale * low);
        Self::noise_factor() * self.bandwidth / (2.0 * width) * area
    }

    /// The filter as a line sees it when it is swept: wider by [`SweepRate::widening`].
    pub(crate) fn swept(self, rate: SweepRate) -> Self {
        Self { bandwidth: self.bandwidth * rate.widening() }
    }
}

/// How slowly a sweep passes a line: sweep time times bandwidth squared over span; above about 2 is slow enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SweepRate(f64);

impl SweepRate {
    /// The rate of a sweep over `span` in `time`; a span of zero never hurries.
    pub(crate) fn of(span: Hertz, bandwidth: Hertz, time: Seconds) -> Self {
        Self(time.get() * bandwidth.get() * bandwidth.get() / span.get())
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

    fn db(share: f64) -> f64 {
        10.0 * share.log10()
    }

    /// numpy 2.4.6: sqrt(pi / (4 ln 2)); 10 log10 of the skirt at 1 and 2 bandwidths; 60 dB to 3 dB width.
    #[test]
    fn the_skirt_is_gaussian() {
        let filter = Gaussian::new(Hertz::new(1e3));
        assert!((Gaussian::noise_factor() - 1.064_467).abs() < 1e-5);
        assert!((db(filter.passes(1e3)) - -12.041_2).abs() < 1e-4);
        assert!((db(filter.passes(-2e3)) - -48.164_8).abs() < 1e-4);
        assert!((db(filter.passes(500.0)) - -3.010_3).abs() < 1e-4);
        assert!((db(filter.passes(0.5 * 4.464_48 * 1e3)) - -60.0).abs() < 1e-3);
    }

    /// scipy 1.17.1: mean of the skirt over a bucket, line at its centre or at its edge, bucket over bandwidth.
    #[test]
    fn an_averaging_detector_loses_a_line_in_a_wide_bucket() {
        let filter = Gaussian::new(Hertz::new(1e3));
        for (width, centred, at_edge) in [
            (0.5, -0.245, -0.915),
            (1.0, -0.915_0, -2.820),
            (2.0, -2.820, -5.749),
            (5.0, -6.718_4, -9.729),
            (10.0, -9.729, -12.74),
        ] {
            let s = width * 1e3;
            assert!((db(filter.passes_between(-s / 2.0, s / 2.0)) - centred).abs() < 1e-3, "{width}");
            assert!((db(filter.passes_between(0.0, s)) - at_edge).abs() < 5e-3, "{width}");
        }
        assert_eq!(filter.passes_between(250.0, 250.0), filter.passes(250.0));
    }

    /// Gaussian skirt at a quarter of the bandwidth: numpy 2.4.6.
    #[test]
    fn a_sample_may_miss_the_top_of_a_line() {
        let filter = Gaussian::new(Hertz::new(1e3));
        assert!((db(filter.passes(250.0)) - -0.752_6).abs() < 1e-4);
    }

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
}
