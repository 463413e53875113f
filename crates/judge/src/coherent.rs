//! Two products of one frequency and unknown phase, such as a harmonic and the analyser's own.

use std::f64::consts::LN_10;

use spurline_units::Db;

use crate::phasor;

/// What the smaller of two coherent products can do to the reading of the larger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coherent {
    /// The most by which the reading can be too high.
    pub above: Db,
    /// The most by which the reading can be too low, as a negative number; `None` if the two can cancel.
    pub below: Option<Db>,
    /// The standard uncertainty for a phase of which nothing is known.
    pub standard: Db,
}

impl Coherent {
    /// The effect of a product that lies `distance` below the other; `None` for a distance below zero, where it is
    /// no longer the smaller one and nothing is known of the other.
    #[must_use]
    pub fn at(distance: Db) -> Option<Self> {
        if distance.get() < 0.0 {
            return None;
        }
        let ratio = (-distance).amplitude_ratio();
        let in_db = 20.0 / LN_10;
        Some(Self {
            above: Db::new(in_db * ratio.ln_1p()),
            below: (ratio < 1.0).then(|| Db::new(in_db * (-ratio).ln_1p())),
            standard: Db::new(phasor::standard(ratio)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
    }

    /// 20 log10(1 +- 10^(-d/20)) by numpy 2.4.6; 18 dB for about 1 dB is the trade's figure.
    #[test]
    fn limits() {
        for (distance, above, below) in [
            (3.0, 4.649_482, -10.690_730),
            (10.0, 2.386_621, -3.301_771),
            (18.0, 1.029_939, -1.168_703),
            (20.0, 0.827_854, -0.915_150),
            (40.0, 0.086_427, -0.087_296),
        ] {
            let coherent = Coherent::at(Db::new(distance)).unwrap();
            close(coherent.above.get(), above, 1e-6);
            close(coherent.below.unwrap().get(), below, 1e-6);
        }
    }

    /// numpy 2.4.6: the standard deviation of 20 log10|1 + r exp(j phi)| over 2 000 000 phases; at 0 dB, where
    /// the logarithm is singular, scipy 1.17.1 `special.spence`.
    #[test]
    fn standard_uncertainty() {
        for (distance, standard) in [
            (0.0, 7.877_230_551_7),
            (3.0, 4.693_143_182_2),
            (6.0, 3.185_608_260_1),
            (10.0, 1.967_481_421_7),
            (18.0, 0.774_754_465_3),
            (20.0, 0.614_955_825_7),
            (30.0, 0.194_246_683_8),
        ] {
            close(Coherent::at(Db::new(distance)).unwrap().standard.get(), standard, 1e-9);
        }
    }

    #[test]
    fn equal_products_can_cancel_and_larger_ones_say_nothing() {
        assert_eq!(Coherent::at(Db::new(0.0)).unwrap().below, None);
        assert_eq!(Coherent::at(Db::new(-0.1)), None);
    }
}
