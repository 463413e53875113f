//! What the first mixer takes away from too much: compression, overload.

use spurline_units::{Db, Dbm};

/// A mixer, known by its compression point; all levels are at the mixer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Mixer {
    /// Level at which a single line is compressed by 1 dB.
    pub(crate) compression: Dbm,
}

/// How far below the compression point the total power raises the overload flag: there a line is already
/// 0.3 dB low, which no reading may hide.
const OVERLOAD_BELOW_COMPRESSION_DB: f64 = 5.0;

impl Mixer {
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

    /// Its compression point is 5 dBm.
    fn mixer() -> Mixer {
        Mixer { compression: Dbm::new(5.0) }
    }

    /// numpy 2.4.6: 20 log10(1 - 0.10875 x) at 0, -3, -6, -10 and -20 dB from the compression point.
    #[test]
    fn a_cubic_compresses() {
        let mixer = mixer();
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
        let mixer = mixer();
        let output = |level| (Dbm::new(level) + mixer.compression_gain(Dbm::new(level))).get();
        assert!((output(15.0) - output(35.0)).abs() < 1e-9);
        assert!(output(9.0) < output(15.0));
    }

    #[test]
    fn overload_shows_before_compression() {
        let mixer = mixer();
        assert!(!mixer.is_overloaded(Dbm::new(0.0)));
        assert!(mixer.is_overloaded(Dbm::new(0.1)));
    }
}
