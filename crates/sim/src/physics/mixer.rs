//! What the first mixer adds and takes away: its own harmonics, compression, overload.

use spurline_units::{Db, Dbm};

/// A mixer, known by its intercepts and its compression point; all levels are at the mixer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Mixer {
    /// Second harmonic intercept.
    pub(crate) second_intercept: Dbm,
    /// Third order intercept for two tones.
    pub(crate) third_intercept: Dbm,
    /// Level at which a single line is compressed by 1 dB.
    pub(crate) compression: Dbm,
}

/// How far below the compression point the total power raises the overload flag: there a line is already
/// 0.3 dB low, which no reading may hide.
const OVERLOAD_BELOW_COMPRESSION_DB: f64 = 5.0;

impl Mixer {
    /// The mixer's own product of this order for one line at `level`; only orders 2 and 3 have one.
    pub(crate) fn own_harmonic(&self, order: u32, level: Dbm) -> Option<Dbm> {
        match order {
            2 => Some(level + (level - self.second_intercept)),
            // A plain cubic makes the third harmonic of one tone three times weaker than a two-tone product.
            3 => Some(self.own_two_tone(level) - Db::new(20.0 * 3f64.log10())),
            _ => None,
        }
    }

    /// The mixer's own third order product of two lines that each have `level`.
    fn own_two_tone(&self, level: Dbm) -> Dbm {
        level + (level - self.third_intercept) * 2.0
    }

    /// The gain that every line has left when the total power at the mixer is `total`: 0 dB or below.
    ///
    /// A cubic, 20 log10(1 - 0.10875 x) with x the power over the 1 dB point, until its output reaches its
    /// maximum at x = 1 / (3 · 0.10875); beyond that the output stays where it is.
    pub(crate) fn compression_gain(&self, total: Dbm) -> Db {
        let x = (total - self.compression).power_ratio();
        let top = 1.0 / (3.0 * CUBIC);
        let cubic = |x: f64| 20.0 * (1.0 - CUBIC * x).log10();
        Db::new(if x <= top { cubic(x) } else { cubic(top) - 10.0 * (x / top).log10() })
    }

    /// Whether the total power at the mixer raises the overload flag.
    pub(crate) fn is_overloaded(&self, total: Dbm) -> bool {
        total > self.compression - Db::new(OVERLOAD_BELOW_COMPRESSION_DB)
    }
}

/// Makes the cubic lose 1 dB at the compression point: 1 - 10^(-1/20).
const CUBIC: f64 = 0.108_749_06;

#[cfg(test)]
mod tests {
    use super::*;

    fn mixer(second: f64, third: f64, compression: f64) -> Mixer {
        Mixer {
            second_intercept: Dbm::new(second),
            third_intercept: Dbm::new(third),
            compression: Dbm::new(compression),
        }
    }

    /// Closed forms: second harmonic 2 P - SHI, two-tone product 3 P - 2 TOI, one tone 9.54 dB below that.
    #[test]
    fn own_products_follow_from_the_intercepts() {
        let mixer = mixer(45.0, 15.0, 5.0);
        let level = Dbm::new(-10.0);
        assert_eq!(mixer.own_harmonic(2, level), Some(Dbm::new(-65.0)));
        assert_eq!(mixer.own_two_tone(level), Dbm::new(-60.0));
        let third = mixer.own_harmonic(3, level).unwrap();
        assert!((third.get() - -69.542_425).abs() < 1e-6, "{third}");
        assert_eq!(mixer.own_harmonic(4, level), None);
    }

    /// 5 W through 40 dB and 20 dB of attenuation into an intercept of +45 dBm, numpy 2.4.6.
    #[test]
    fn own_second_harmonic_of_a_handheld() {
        let mixer = mixer(45.0, 15.0, 5.0);
        let at_mixer = Dbm::new(36.9897) - Db::new(60.0);
        assert!((at_mixer.get() - -23.01).abs() < 0.01);
        let at_connector = mixer.own_harmonic(2, at_mixer).unwrap() + Db::new(60.0);
        assert!((at_connector.get() - -31.02).abs() < 0.015, "{at_connector}");
    }

    /// numpy 2.4.6: 20 log10(1 - 0.10875 x) at 0, -3, -6, -10 and -20 dB from the compression point.
    #[test]
    fn a_cubic_compresses() {
        let mixer = mixer(45.0, 15.0, 5.0);
        for (level, gain, tolerance) in [
            (5.0, -1.0, 1e-5),
            (2.0, -0.487, 1e-3),
            (-1.0, -0.241, 1e-3),
            (-5.0, -0.094_98, 1e-5),
            (-15.0, -0.009, 1e-3),
        ] {
            let found = mixer.compression_gain(Dbm::new(level)).get();
            assert!((found - gain).abs() < tolerance, "{level} dBm: {found}");
        }
    }

    #[test]
    fn beyond_its_maximum_the_output_stands_still() {
        let mixer = mixer(45.0, 15.0, 5.0);
        let output = |level| (Dbm::new(level) + mixer.compression_gain(Dbm::new(level))).get();
        assert!((output(15.0) - output(35.0)).abs() < 1e-9);
        assert!(output(9.0) < output(15.0));
    }

    #[test]
    fn overload_shows_before_compression() {
        let mixer = mixer(45.0, 15.0, 5.0);
        assert!(!mixer.is_overloaded(Dbm::new(0.0)));
        assert!(mixer.is_overloaded(Dbm::new(0.1)));
    }
}
