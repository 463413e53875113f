//! Complex two-ports between a source and a load: exact cascades, no small-reflection shortcuts.

use num_complex::Complex64;

/// The scattering parameters of a two-port at one frequency, 50 ohm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TwoPort {
    /// Reflection at port 1.
    pub(crate) s11: Complex64,
    /// Transmission from port 1 to port 2.
    pub(crate) s21: Complex64,
    /// Transmission from port 2 to port 1.
    pub(crate) s12: Complex64,
    /// Reflection at port 2.
    pub(crate) s22: Complex64,
}

impl TwoPort {
    /// A connection without loss, length or reflection.
    pub(crate) const THROUGH: Self = Self {
        s11: Complex64::new(0.0, 0.0),
        s21: Complex64::new(1.0, 0.0),
        s12: Complex64::new(1.0, 0.0),
        s22: Complex64::new(0.0, 0.0),
    };

    /// This two-port with `next` behind it.
    #[must_use]
    pub(crate) fn then(&self, next: &Self) -> Self {
        let bounce = (Complex64::new(1.0, 0.0) - self.s22 * next.s11).inv();
        Self {
            s11: self.s11 + self.s21 * next.s11 * self.s12 * bounce,
            s21: self.s21 * next.s21 * bounce,
            s12: self.s12 * next.s12 * bounce,
            s22: next.s22 + next.s12 * self.s22 * next.s21 * bounce,
        }
    }

    /// Power of the wave that runs into the load, over the power that the source gives into 50 ohm.
    ///
    /// An instrument's level calibration refers to this wave: its own reflection is part of its calibration,
    /// what is left is the interplay of source, two-port and load.
    #[must_use]
    pub(crate) fn transfer(&self, source: Complex64, load: Complex64) -> f64 {
        let one = Complex64::new(1.0, 0.0);
        let loops = (one - self.s11 * source) * (one - self.s22 * load) - self.s12 * self.s21 * source * load;
        (self.s21 / loops).norm_sqr()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn c(re: f64, im: f64) -> Complex64 {
        Complex64::new(re, im)
    }

    fn pad(reflection: f64, through: f64) -> TwoPort {
        TwoPort {
            s11: c(reflection, 0.0),
            s21: c(through, 0.0),
            s12: c(through, 0.0),
            s22: c(reflection, 0.0),
        }
    }

    fn gain(two_port: &TwoPort) -> f64 {
        20.0 * two_port.s21.norm().log10()
    }

    /// scikit-rf 2.2.0, `a ** b`.
    #[test]
    fn cascades_are_exact() {
        let through = c(10f64.powf(-1.5), 0.0);
        let a = TwoPort { s11: c(0.10, 0.0), s21: through, s12: through, s22: c(0.08, 0.0) };
        let b = TwoPort { s11: c(0.0, 0.05), s21: c(0.95, 0.0), s12: c(0.95, 0.0), s22: c(0.05, 0.0) };
        assert!((gain(&a.then(&b)) - -30.445_597).abs() < 1e-6);
        assert!((gain(&pad(0.2, 0.89).then(&pad(0.2, 0.89))) - -1.669_824).abs() < 1e-6);
    }

    /// numpy 2.4.6: mismatch of VSWR 1.5 with 1.2, -20 log10(1 ∓ 0.2 · 0.090909).
    #[test]
    fn two_reflections_meet_within_the_mismatch_limits() {
        let (g, l) = (0.5 / 2.5, 0.2 / 2.2);
        let best = 10.0 * TwoPort::THROUGH.transfer(c(g, 0.0), c(l, 0.0)).log10();
        let worst = 10.0 * TwoPort::THROUGH.transfer(c(g, 0.0), c(-l, 0.0)).log10();
        assert!((best - 0.159_38).abs() < 1e-4, "{best}");
        assert!((worst - -0.156_51).abs() < 1e-4, "{worst}");
    }

    #[test]
    fn source_and_load_as_two_ports_give_the_same_transfer() {
        let (source, load) = (c(0.3, -0.4), c(-0.1, 0.2));
        let middle = pad(0.2, 0.5).then(&pad(0.1, 0.7));
        // A source with reflection is a perfect source behind a two-port that only reflects backwards.
        let front = TwoPort { s22: source, ..TwoPort::THROUGH };
        let whole = front.then(&middle);
        let expected = (whole.s21 / (c(1.0, 0.0) - whole.s22 * load)).norm_sqr();
        assert!((middle.transfer(source, load) - expected).abs() < 1e-12);
    }

    /// A 10 dB pad with a short behind it has VSWR 1.22222: closed form (1 + 0.1) / (1 - 0.1).
    #[test]
    fn a_pad_hides_a_short() {
        let behind = pad(0.0, 0.1f64.sqrt()).then(&TwoPort { s11: c(-1.0, 0.0), ..TwoPort::THROUGH });
        let magnitude = behind.s11.norm();
        assert!(((1.0 + magnitude) / (1.0 - magnitude) - 1.222_22).abs() < 1e-5);
    }
}
