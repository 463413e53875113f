//! What a plain square and a plain cube make of the two strongest lines: harmonics and two-tone products.

use spurline_units::{Db, Dbm, Hertz};

/// Something that distorts, known by its intercepts; it has no products of an order without one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Distorting {
    /// Second harmonic intercept.
    pub(crate) second_intercept: Option<Dbm>,
    /// Third order intercept for two tones.
    pub(crate) third_intercept: Option<Dbm>,
}

/// A line by its level where the distortion happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tone {
    pub(crate) frequency: Hertz,
    pub(crate) level: Dbm,
}

/// One product, at the same place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Product {
    pub(crate) order: u32,
    pub(crate) tone: Tone,
}

impl Distorting {
    /// The products of one line, or of two.
    pub(crate) fn products(&self, one: Tone, other: Option<Tone>) -> Vec<Product> {
        let mut products = Vec::with_capacity(10);
        let mut add = |order, frequency: f64, level| {
            let frequency = Hertz::new(frequency.abs());
            products.push(Product { order, tone: Tone { frequency, level } });
        };
        let (f1, f2) = (one.frequency.get(), other.map_or(0.0, |tone| tone.frequency.get()));
        if let Some(intercept) = self.second_intercept {
            add(2, 2.0 * f1, one.level + (one.level - intercept));
            if let Some(other) = other {
                add(2, 2.0 * f2, other.level + (other.level - intercept));
                // Two tones make twice the voltage at their sum and at their difference.
                let level = one.level + (other.level - intercept) + Db::new(20.0 * 2f64.log10());
                add(2, f1 + f2, level);
                add(2, f1 - f2, level);
            }
        }
        if let Some(intercept) = self.third_intercept {
            // A plain cubic makes the third harmonic of one tone three times weaker than a two-tone product.
            let single = |tone: Tone| third(tone, tone, intercept) - Db::new(20.0 * 3f64.log10());
            add(3, 3.0 * f1, single(one));
            if let Some(other) = other {
                add(3, 3.0 * f2, single(other));
                for sign in [1.0, -1.0] {
                    add(3, 2.0 * f1 + sign * f2, third(one, other, intercept));
                    add(3, 2.0 * f2 + sign * f1, third(other, one, intercept));
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

    fn both() -> Distorting {
        Distorting { second_intercept: Some(Dbm::new(45.0)), third_intercept: Some(Dbm::new(15.0)) }
    }

    fn tone(mhz: f64, dbm: f64) -> Tone {
        Tone { frequency: Hertz::from_mhz(mhz), level: Dbm::new(dbm) }
    }

    fn at(products: &[Product], mhz: f64) -> f64 {
        let found = products.iter().find(|product| (product.tone.frequency.mhz() - mhz).abs() < 1e-9);
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
