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

/// Over so narrow a share of the offset the density is that in the middle: to 0.1 dB for 30 dB a decade.
const NARROW: f64 = 0.1;
/// Exponents this near to nothing make a logarithm.
const LEVEL: f64 = 1e-9;

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

    /// The noise behind a filter, as a share of the line's power, `offset` hertz from the line: what lies within its
    /// noise bandwidth. Near the line that is much less than the density at the line times that bandwidth.
    pub(crate) fn share(&self, offset: f64, noise_bandwidth: Hertz) -> f64 {
        let (offset, half) = (offset.abs(), noise_bandwidth.get() / 2.0);
        if half < offset * NARROW {
            return self.density(offset) * noise_bandwidth.get();
        }
        let below = self.within(offset - half);
        self.within(offset + half) - below
    }

    /// The power from the line to an offset, negative below the line.
    fn within(&self, offset: f64) -> f64 {
        let end = offset.abs();
        let [start, .., last] = self.points.as_slice() else { return self.density(end) * offset };
        // Level up to the first point, and beyond the last.
        let mut sum = start.1.exp() * end.min(start.0.exp());
        for pair in self.points.windows(2) {
            let [(from, low), (to, high)] = [pair[0], pair[1]];
            let (from_hertz, to_hertz) = (from.exp(), to.exp().min(end));
            if to_hertz <= from_hertz {
                break;
            }
            let exponent = (high - low) / (to - from) + 1.0;
            let ratio = (to_hertz / from_hertz).ln();
            let shape = if exponent.abs() < LEVEL { ratio } else { (ratio * exponent).exp_m1() / exponent };
            sum += low.exp() * from_hertz * shape;
        }
        sum += last.1.exp() * (end - last.0.exp()).max(0.0);
        sum.copysign(offset)
    }

    fn density(&self, offset: f64) -> f64 {
        let log = offset.max(f64::MIN_POSITIVE).ln();
        let after = self.points.partition_point(|(at, _)| *at <= log);
        let density = match (after.checked_sub(1).map(|before| self.points[before]), self.points.get(after)) {
            (Some((from, low)), Some((to, high))) => low + (high - low) * (log - from) / (to - from),
            (Some((_, density)), None) | (None, Some(&(_, density))) => density,
            (None, None) => return 0.0,
        };
        density.exp()
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

    /// By hand: -95 dBc/Hz up to 1 kHz and 20 dB a decade less from there make 1.9 times 1 kHz of that up to 10 kHz, on
    /// both sides: -59.20 dBc, not the -52 dBc of 20 kHz at -95.
    #[test]
    fn a_wide_filter_holds_what_lies_within_it() {
        let noise = noise(&[(1e3, -95.0), (10e3, -115.0)]);
        let found = db(noise.share(0.0, Hertz::new(20e3)));
        assert!((found - -59.202).abs() < 1e-3, "{found}");
        // Either way where the two ways of reckoning meet.
        let (just, still) = (noise.share(5e3, Hertz::new(1001.0)), noise.share(5e3, Hertz::new(999.0)));
        assert!((db(just) - db(still)).abs() < 0.1);
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
