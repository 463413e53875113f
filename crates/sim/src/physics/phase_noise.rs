//! The noise of the local oscillator, which every line wears as a skirt.

use std::f64::consts::LN_10;

use spurline_units::Hertz;

use super::line::Line;

/// Density at an offset from a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct NoiseDensity {
    pub(crate) offset: Hertz,
    /// In dB below the line in 1 Hz, as a rule below zero.
    pub(crate) density: f64,
}

/// Density over the offset: straight between its points over the logarithm of the offset, level beyond them.
#[derive(Clone, Debug)]
pub(crate) struct PhaseNoise {
    /// Logarithms of the offset in hertz and of the density in shares of the line for each hertz.
    points: Vec<(f64, f64)>,
}

impl PhaseNoise {
    /// From points in rising order; without any there is no such noise.
    pub(crate) fn new(points: &[NoiseDensity]) -> Option<Self> {
        let point = |point: &NoiseDensity| (point.offset.get().ln(), point.density * LN_10 / 10.0);
        (!points.is_empty()).then(|| Self { points: points.iter().map(point).collect() })
    }

    /// The noise behind a filter, as a share of the line's power, `offset` hertz from the line.
    pub(crate) fn share(&self, offset: f64, noise_bandwidth: Hertz) -> f64 {
        let log = offset.abs().max(f64::MIN_POSITIVE).ln();
        let after = self.points.partition_point(|(at, _)| *at <= log);
        let density = match (after.checked_sub(1).map(|before| self.points[before]), self.points.get(after)) {
            (Some((from, low)), Some((to, high))) => low + (high - low) * (log - from) / (to - from),
            (Some((_, density)), None) | (None, Some(&(_, density))) => density,
            (None, None) => return 0.0,
        };
        density.exp() * noise_bandwidth.get()
    }

    /// The most that it may be anywhere.
    pub(crate) fn most(&self, noise_bandwidth: Hertz) -> f64 {
        let density = self.points.iter().map(|(_, density)| *density).fold(f64::NEG_INFINITY, f64::max);
        density.exp() * noise_bandwidth.get()
    }
}

/// The noise of two oscillators: the analyser's, which every line wears, and the unit's, which its own lines bring along.
#[derive(Clone, Debug)]
pub(crate) struct Skirts {
    own: Option<PhaseNoise>,
    unit: Option<PhaseNoise>,
}

impl Skirts {
    /// Without either there is no such noise.
    pub(crate) fn new(own: Option<PhaseNoise>, unit: Option<PhaseNoise>) -> Option<Self> {
        (own.is_some() || unit.is_some()).then_some(Self { own, unit })
    }

    /// The noise of a line behind a filter, as a share of its power, `offset` hertz from it.
    pub(crate) fn share(&self, line: &Line, offset: f64, noise_bandwidth: Hertz) -> f64 {
        self.of(line).map(|noise| noise.share(offset, noise_bandwidth)).sum()
    }

    /// The most that it may be anywhere.
    pub(crate) fn most(&self, line: &Line, noise_bandwidth: Hertz) -> f64 {
        self.of(line).map(|noise| noise.most(noise_bandwidth)).sum()
    }

    fn of(&self, line: &Line) -> impl Iterator<Item = &PhaseNoise> {
        let unit = self.unit.as_ref().filter(|_| line.of.is_modulated());
        self.own.iter().chain(unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::filter::{Filter, Shape};

    fn noise(points: &[(f64, f64)]) -> PhaseNoise {
        let point =
            |(offset, density): &(f64, f64)| NoiseDensity { offset: Hertz::new(*offset), density: *density };
        PhaseNoise::new(&points.iter().map(point).collect::<Vec<_>>()).unwrap()
    }

    fn db(share: f64) -> f64 {
        10.0 * share.log10()
    }

    /// numpy 2.4.6: -110 dBc/Hz behind a Gaussian filter of 1 kHz is -110 + 10 log10(1064.467) = -79.7287 dBc.
    #[test]
    fn the_density_fills_the_filter() {
        let bandwidth = Filter::new(Shape::Gaussian, Hertz::new(1e3)).noise_bandwidth();
        let found = db(noise(&[(10e3, -110.0)]).share(-20e3, bandwidth));
        assert!((found - -79.728_7).abs() < 1e-4, "{found}");
    }

    /// numpy 2.4.6, `interp` over `log10` of the offset.
    #[test]
    fn between_points_it_is_straight_over_the_logarithm() {
        let noise = noise(&[(1e3, -90.0), (10e3, -110.0), (1e6, -140.0)]);
        let hertz = Hertz::new(1.0);
        for (offset, density) in [
            (10.0, -90.0),
            (1e3, -90.0),
            (3e3, -99.542_4),
            (10e3, -110.0),
            (50e3, -120.484_6),
            (-1e7, -140.0),
        ] {
            let found = db(noise.share(offset, hertz));
            assert!((found - density).abs() < 1e-4, "{offset}: {found}");
        }
        assert!((db(noise.most(hertz)) - -90.0).abs() < 1e-9 && db(noise.share(0.0, hertz)).is_finite());
    }

    /// The unit's noise comes with its own lines only, and adds to the analyser's: two equal ones are 3.0103 dB more.
    #[test]
    fn two_oscillators_add_up() {
        use crate::physics::line::Oscillation;
        use spurline_units::Watts;

        let skirts = Skirts::new(Some(noise(&[(1e3, -110.0)])), Some(noise(&[(1e3, -110.0)]))).unwrap();
        let bare = Line::bare(Hertz::new(145e6), Watts::new(1.0));
        let of = Oscillation { swings: Some(1.0), ..bare.of };
        let hertz = Hertz::new(1.0);
        assert!((db(skirts.share(&bare, 5e3, hertz)) - -110.0).abs() < 1e-9);
        assert!((db(skirts.share(&Line { of, ..bare }, 5e3, hertz)) - -106.989_7).abs() < 1e-4);
        assert!((db(skirts.most(&Line { of, ..bare }, hertz)) - -106.989_7).abs() < 1e-4);
        assert!(Skirts::new(None, None).is_none());
    }
}
