//! Scattering parameters of a two-port at one frequency.

use num_complex::Complex64;
use spurline_units::Db;

/// The four scattering parameters, as ratios of waves in a 50 ohm system; port 1 faces the transmitter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoPort {
    /// Reflection at port 1.
    pub s11: Complex64,
    /// Transmission from port 1 to port 2.
    pub s21: Complex64,
    /// Transmission from port 2 to port 1.
    pub s12: Complex64,
    /// Reflection at port 2.
    pub s22: Complex64,
}

impl TwoPort {
    /// This two-port followed by `next`, with everything that bounces between the two.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        let echo = 1.0 - self.s22 * next.s11;
        Self {
            s11: self.s11 + self.s12 * next.s11 * self.s21 / echo,
            s21: self.s21 * next.s21 / echo,
            s12: self.s12 * next.s12 / echo,
            s22: next.s22 + next.s21 * self.s22 * next.s12 / echo,
        }
    }

    /// The loss from port 1 to port 2, -20 log10|S21|; `None` if nothing passes.
    #[must_use]
    pub fn loss(self) -> Option<Db> {
        attenuation(self.s21)
    }

    /// The loss from port 2 to port 1; `None` if nothing passes.
    #[must_use]
    pub fn reverse_loss(self) -> Option<Db> {
        attenuation(self.s12)
    }
}

fn attenuation(transmission: Complex64) -> Option<Db> {
    let loss = -20.0 * transmission.norm().log10();
    loss.is_finite().then(|| Db::new(loss))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn c(re: f64, im: f64) -> Complex64 {
        Complex64::new(re, im)
    }

    fn two_port(s11: Complex64, s12: Complex64, s21: Complex64, s22: Complex64) -> TwoPort {
        TwoPort { s11, s21, s12, s22 }
    }

    fn close(found: Complex64, re: f64, im: f64) {
        assert!((found - c(re, im)).norm() < 1e-8, "found {found}, expected {re} + {im}j");
    }

    /// scikit-rf 2.2.0: `a ** b`.
    #[test]
    fn cascades() {
        let through = c(0.001f64.sqrt(), 0.0);
        let a = two_port(c(0.1, 0.0), through, through, c(0.08, 0.0));
        let b = two_port(c(0.0, 0.05), c(0.95, 0.0), c(0.95, 0.0), c(0.05, 0.0));
        assert!((a.then(b).loss().unwrap().get() - 30.445_597).abs() < 1e-6);

        let pad = two_port(c(0.2, 0.0), c(0.89, 0.0), c(0.89, 0.0), c(0.2, 0.0));
        assert!((pad.then(pad).loss().unwrap().get() - 1.669_824).abs() < 1e-6);
        assert!((pad.then(pad).reverse_loss().unwrap().get() - 1.669_824).abs() < 1e-6);
    }

    /// scikit-rf 2.2.0: all four parameters of two parts that are neither matched nor reciprocal.
    #[test]
    fn cascades_in_all_four_parameters() {
        let a = two_port(c(0.1, 0.2), c(0.5, -0.3), c(0.4, 0.1), c(0.05, -0.25));
        let b = two_port(c(0.0, -0.15), c(0.7, 0.0), c(0.0, 0.6), c(0.3, 0.1));
        let both = a.then(b);
        close(both.s11, 0.089_639_68, 0.166_821_88);
        close(both.s12, 0.335_868_64, -0.204_837_6);
        close(both.s21, -0.056_156_16, 0.231_731_25);
        close(both.s22, 0.401_345_84, 0.119_508_34);
    }

    proptest! {
        #[test]
        fn matched_lossless_parts_lose_nothing(phases in prop::collection::vec(0.0..6.3f64, 1..8)) {
            let zero = c(0.0, 0.0);
            let line = |phase| two_port(zero, Complex64::from_polar(1.0, phase), Complex64::from_polar(1.0, phase), zero);
            let all = phases.into_iter().map(line).reduce(TwoPort::then).unwrap();
            prop_assert!(all.loss().unwrap().abs().get() < 1e-12);
            prop_assert!(all.s11.norm() < 1e-12);
        }

        /// What is reflected and what passes is what went in, whatever bounces between two lossless parts.
        #[test]
        fn lossless_parts_keep_the_power(a in 0.0..0.9f64, b in 0.0..0.9f64, turn in 0.0..6.3f64) {
            let lossless = |r: f64, turn: f64| {
                let through = Complex64::from_polar((1.0 - r * r).sqrt(), turn + std::f64::consts::FRAC_PI_2);
                two_port(Complex64::from_polar(r, turn), through, through, Complex64::from_polar(r, turn))
            };
            let both = lossless(a, turn).then(lossless(b, 2.0 * turn));
            prop_assert!((both.s11.norm_sqr() + both.s21.norm_sqr() - 1.0).abs() < 1e-12);
        }

        /// The sum of losses in dB is wrong by no more than 20 log10(1 +- |S22a||S11b|).
        #[test]
        fn a_cascade_keeps_the_mismatch_limits(a in 0.0..0.9f64, b in 0.0..0.9f64, p in 0.0..6.3f64, q in 0.0..6.3f64) {
            let part = |r, turn| two_port(Complex64::from_polar(r, turn), c(0.5, 0.0), c(0.5, 0.0), Complex64::from_polar(r, turn));
            let (first, second) = (part(a, p), part(b, q));
            let sum = first.loss().unwrap() + second.loss().unwrap();
            let gained = (sum - first.then(second).loss().unwrap()).get();
            // The transmission is divided by 1 - S22a S11b, so the limits stand with their signs turned.
            prop_assert!(gained <= -20.0 * (1.0 - a * b).log10() + 1e-9);
            prop_assert!(gained >= -20.0 * (1.0 + a * b).log10() - 1e-9);
        }
    }
}
