//! What a plain square and a plain cube make of the two strongest oscillations: harmonics and two-tone products.

use spurline_units::{Db, Dbm};

use super::line::Oscillation;

/// Something that distorts, known by its intercepts; it has no products of an order without one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Distorting {
    /// Second harmonic intercept.
    pub(crate) second_intercept: Option<Dbm>,
    /// Third order intercept for two tones.
    pub(crate) third_intercept: Option<Dbm>,
}

/// An oscillation by its level where the distortion happens: all its lines together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tone {
    pub(crate) of: Oscillation,
    pub(crate) level: Dbm,
}

/// One product, at the same place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Product {
    pub(crate) order: u32,
    pub(crate) tone: Tone,
}

impl Distorting {
    /// The products of one oscillation, or of two.
    pub(crate) fn products(&self, one: Tone, other: Option<Tone>) -> Vec<Product> {
        let mut products = Vec::with_capacity(10);
        let mut add = |order, tone: Tone, times, with: Option<(Tone, f64)>, level| {
            let of = tone.of.mixed(times, with.map(|(other, times)| (other.of, times)));
            products.push(Product { order, tone: Tone { of, level } });
        };
        if let Some(intercept) = self.second_intercept {
            add(2, one, 2.0, None, one.level + (one.level - intercept));
            if let Some(other) = other {
                add(2, other, 2.0, None, other.level + (other.level - intercept));
                // Two tones make twice the voltage at their sum and at their difference.
                let level = one.level + (other.level - intercept) + Db::new(20.0 * 2f64.log10());
                add(2, one, 1.0, Some((other, 1.0)), level);
                add(2, one, 1.0, Some((other, -1.0)), level);
            }
        }
        if let Some(intercept) = self.third_intercept {
            // A plain cubic makes the third harmonic of one tone three times weaker than a two-tone product.
            let single = |tone: Tone| third(tone, tone, intercept) - Db::new(20.0 * 3f64.log10());
            add(3, one, 3.0, None, single(one));
            if let Some(other) = other {
                add(3, other, 3.0, None, single(other));
                for sign in [1.0, -1.0] {
                    add(3, one, 2.0, Some((other, sign)), third(one, other, intercept));
                    add(3, other, 2.0, Some((one, sign)), third(other, one, intercept));
                }
            }
        }
        products
    }
}

/// The third order product of twice the one and once the other.
fn third(twice: Tone, once: Tone, intercept: Dbm) -> Dbm {
    once.level + (twice.level - intercept) * 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use spurline_units::Hertz;

    fn both() -> Distorting {
        Distorting { second_intercept: Some(Dbm::new(45.0)), third_intercept: Some(Dbm::new(15.0)) }
    }

    fn tone(mhz: f64, dbm: f64) -> Tone {
        let of = Oscillation { centre: Hertz::from_mhz(mhz), swings: None };
        Tone { of, level: Dbm::new(dbm) }
    }

    fn at(products: &[Product], mhz: f64) -> f64 {
        let found = products.iter().find(|product| (product.tone.of.centre.mhz() - mhz).abs() < 1e-9);
        found.unwrap().tone.level.get()
    }

    /// Closed forms: second harmonic 2 P - SHI, two-tone product 3 P - 2 TOI, one tone 9.54 dB below that.
    #[test]
    fn products_follow_from_the_intercepts() {
        let one = both().products(tone(145.0, -10.0), None);
        assert_eq!((one.len(), at(&one, 290.0)), (2, -65.0));
        assert!((at(&one, 435.0) - -69.542_425).abs() < 1e-6);
        let two = both().products(tone(145.0, -10.0), Some(tone(146.0, -10.0)));
        assert_eq!((at(&two, 144.0), at(&two, 147.0)), (-60.0, -60.0));
        // The second tone 10 dB down lowers the one product by 10 dB and the other by 20 dB.
        let two = both().products(tone(145.0, -10.0), Some(tone(146.0, -20.0)));
        assert_eq!((at(&two, 144.0), at(&two, 147.0)), (-70.0, -80.0));
    }

    /// numpy 2.4.6, `fft.rfft` of x + 0.02 x² + 0.01 x³ with x = 0.1 cos + 0.06 cos, in dB below the first tone's
    /// voltage; the intercepts follow from the coefficients: 1 / 0.01 and sqrt(4 / 0.03) times the unit voltage.
    #[test]
    fn all_products_of_a_square_and_a_cube() {
        let volts = |v: f64| 20.0 * v.log10();
        let distorting = Distorting {
            second_intercept: Some(Dbm::new(volts(2.0 / 0.02))),
            third_intercept: Some(Dbm::new(volts((4.0f64 / (3.0 * 0.01)).sqrt()))),
        };
        let products = distorting.products(tone(7.0, volts(0.1)), Some(tone(10.0, volts(0.06))));
        for (mhz, expected) in EXPECTED {
            let found = at(&products, mhz);
            assert!((found - expected).abs() < 1e-3, "{mhz} MHz: {found}, expected {expected}");
        }
    }

    const EXPECTED: [(f64, f64); 10] = [
        (14.0, -80.0000),
        (20.0, -88.8739),
        (17.0, -78.4164),
        (3.0, -78.4164),
        (21.0, -112.0412),
        (30.0, -125.3521),
        (24.0, -106.9357),
        (4.0, -106.9357),
        (27.0, -111.3727),
        (13.0, -111.3727),
    ];
}
