//! Reflections and what two of them facing each other do to a level.

use std::f64::consts::{LN_10, SQRT_2};

use spurline_units::{Db, Vswr};

/// The magnitude of a reflection coefficient, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Reflection(f64);

impl Reflection {
    /// From the magnitude of the coefficient; `None` unless it is from 0 to 1.
    #[must_use]
    pub fn new(magnitude: f64) -> Option<Self> {
        (0.0..=1.0).contains(&magnitude).then_some(Self(magnitude))
    }

    /// From a voltage standing wave ratio.
    #[must_use]
    pub fn from_vswr(vswr: Vswr) -> Self {
        Self(vswr.reflection())
    }

    /// The magnitude of the coefficient.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The voltage standing wave ratio; infinite for a total reflection.
    #[must_use]
    pub fn vswr(self) -> f64 {
        (1.0 + self.0) / (1.0 - self.0)
    }

    /// What is left of it in front of a part that loses `loss` each way.
    #[must_use]
    pub fn through(self, loss: Db) -> Self {
        Self((self.0 / loss.power_ratio()).min(1.0))
    }
}

/// Two reflections that face each other with an unknown phase between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mismatch {
    /// Product of the two magnitudes and of what lies between, 0 to 1.
    product: f64,
}

/// Per cent of voltage to the dB, as ETSI TR 100 028 rounds it in its mismatch form.
const PERCENT_OF_VOLTAGE: f64 = 11.5;

impl Mismatch {
    /// Two reflections that meet.
    #[must_use]
    pub fn between(one: Reflection, other: Reflection) -> Self {
        Self { product: one.0 * other.0 }
    }

    /// The same two with parts of this total loss between them, which the echo passes twice.
    #[must_use]
    pub fn through(self, loss: Db) -> Self {
        Self { product: (self.product / loss.power_ratio()).min(1.0) }
    }

    /// The most by which a level can come out too high, 20 log10(1 + |G1||G2|).
    #[must_use]
    pub fn above(self) -> Db {
        Db::new(20.0 / LN_10 * self.product.ln_1p())
    }

    /// The most by which it can come out too low, 20 log10(1 - |G1||G2|), a negative number; `None` between two
    /// total reflections.
    #[must_use]
    pub fn below(self) -> Option<Db> {
        (self.product < 1.0).then(|| Db::new(20.0 / LN_10 * (-self.product).ln_1p()))
    }

    /// Half the width of the U-shaped distribution, 100 |G1||G2| / 11.5 dB.
    #[must_use]
    pub fn half_width(self) -> Db {
        Db::new(100.0 * self.product / PERCENT_OF_VOLTAGE)
    }

    /// The standard uncertainty of the U-shaped distribution.
    #[must_use]
    pub fn standard(self) -> Db {
        self.half_width() / SQRT_2
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() < tolerance, "found {found}, expected {expected}");
    }

    fn reflection(magnitude: f64) -> Reflection {
        Reflection::new(magnitude).unwrap()
    }

    /// numpy 2.4.6; +-0.13 dB for 1.2 and 1.4 is also the trade's figure. The standard uncertainty follows the
    /// form of ETSI TR 100 028.
    #[test]
    fn limits_by_vswr() {
        for (one, other, above, below, standard) in [
            (1.5, 1.2, 0.156_51, -0.159_38, 0.111_80),
            (1.2, 1.4, 0.130_6, -0.132_6, 0.093_2),
            (1.5, 1.5, 0.340_7, -0.354_6, 0.246_0),
            (2.0, 2.0, 0.915_1, -1.023_1, 0.683_2),
        ] {
            let [one, other] = [one, other].map(|vswr| Reflection::from_vswr(Vswr::new(vswr).unwrap()));
            let mismatch = Mismatch::between(one, other);
            close(mismatch.above().get(), above, 1e-4);
            close(mismatch.below().unwrap().get(), below, 1e-4);
            close(mismatch.standard().get(), standard, 1e-4);
        }
    }

    /// numpy 2.4.6: a transmitter at a harmonic, |G| = 0.7, into 0.1 and into 0.333.
    #[test]
    fn limits_at_a_harmonic() {
        for (other, above, below, standard) in [(0.1, 0.588, -0.630, 0.430), (0.333, 1.820, -2.305, 1.433)] {
            let mismatch = Mismatch::between(reflection(0.7), reflection(other));
            close(mismatch.above().get(), above, 1e-3);
            close(mismatch.below().unwrap().get(), below, 1e-3);
            close(mismatch.standard().get(), standard, 1e-3);
        }
    }

    /// A conducted spurious emission chain published by an accreditation body after ETSI TR 100 028: equipment,
    /// splitter, attenuators and analyser, every pair with the transmission between; published as 1.318 dB.
    #[test]
    fn chain_of_interfaces() {
        let rows: [(f64, f64, f64, f64); 6] = [
            (0.7, 0.099, 1.0, 0.426),
            (0.099, 0.333, 1.0, 0.203),
            (0.333, 0.091, 1.0, 0.186),
            (0.7, 0.333, 0.912, 1.192),
            (0.099, 0.333, 0.794, 0.128),
            (0.7, 0.091, 0.724, 0.205),
        ];
        let mut squares = 0.0;
        for (one, other, transmission, published) in rows {
            let loss = Db::new(-20.0 * transmission.log10());
            let standard =
                Mismatch::between(reflection(one), reflection(other)).through(loss).standard().get();
            close(standard, published, 1e-3);
            squares += standard * standard;
        }
        close(squares.sqrt(), 1.318_0, 1e-3);
    }

    /// A pad with a short behind it, |G| = 10^(-2A/20): numpy 2.4.6.
    #[test]
    fn a_pad_hides_what_is_behind_it() {
        for (pad, vswr) in [(3.0, 3.009_520), (6.0, 1.670_900), (10.0, 1.222_222), (20.0, 1.020_202)] {
            close(reflection(1.0).through(Db::new(pad)).vswr(), vswr, 1e-5);
        }
    }

    #[test]
    fn impossible_reflections_are_refused() {
        assert_eq!([-0.1, 1.1, f64::NAN].map(Reflection::new), [None; 3]);
        assert_eq!([0.9, f64::INFINITY, f64::NAN].map(Vswr::new), [None; 3]);
        assert_eq!(Mismatch::between(reflection(1.0), reflection(1.0)).below(), None);
    }

    proptest! {
        #[test]
        fn vswr_and_back(magnitude in 0.0..0.998f64) {
            let back = Reflection::from_vswr(Vswr::new(reflection(magnitude).vswr()).unwrap());
            prop_assert!((back.get() - magnitude).abs() < 1e-12);
        }

        #[test]
        fn no_phase_leaves_the_limits(one in 0.0..1.0f64, other in 0.0..1.0f64, phase in 0.0..6.3f64) {
            let mismatch = Mismatch::between(reflection(one), reflection(other));
            let error = 10.0 * (1.0 + (one * other).powi(2) + 2.0 * one * other * phase.cos()).log10();
            prop_assert!(error <= mismatch.above().get() + 1e-9);
            prop_assert!(error >= mismatch.below().unwrap().get() - 1e-9);
        }
    }
}
