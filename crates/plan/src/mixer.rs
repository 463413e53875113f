//! What the analyser itself makes of a carrier: second and third order products, by its guaranteed intercepts.

use spurline_path::Intercepts;
use spurline_profile::{Intercepts as Guarantee, Limits};
use spurline_units::Dbm;

/// The most that the analyser can make at a harmonic of a carrier of `mixer` at the mixer, at the mixer; `None` where
/// nobody guarantees it: a typical intercept proves nothing.
pub(crate) fn own_product(limits: &Limits, order: u32, mixer: Dbm) -> Option<Dbm> {
    match limits.intercepts {
        Guarantee::Typical => None,
        Guarantee::Guaranteed => Some(intercepts(limits).product(order, mixer)),
    }
}

/// The analyser's intercepts, whether or not they are guaranteed.
#[must_use]
pub fn intercepts(limits: &Limits) -> Intercepts {
    Intercepts { second: limits.second_intercept, third: limits.third_intercept }
}

#[cfg(test)]
mod tests {
    use spurline_units::Vswr;

    use super::*;

    fn close(found: Option<Dbm>, expected: f64) {
        let found = found.unwrap().get();
        assert!((found - expected).abs() < 1e-9, "found {found}, expected {expected}");
    }

    /// 2P - SHI and 3P - 2 TOI are the defining formulas of the intercepts; SHI +45 dBm at -10 dBm gives -65 dBm,
    /// TOI +15 dBm at -10 dBm gives -60 dBm for two tones, 9.5424 dB more for the harmonic of one.
    #[test]
    fn products_follow_the_intercepts() {
        let limits = Limits {
            second_intercept: Dbm::new(45.0),
            third_intercept: Dbm::new(15.0),
            linear_to: Dbm::new(-10.0),
            damage: Dbm::new(30.0),
            vswr: Vswr::new(1.5).unwrap(),
            intercepts: Guarantee::Guaranteed,
        };
        close(own_product(&limits, 2, Dbm::new(-10.0)), -65.0);
        close(own_product(&limits, 3, Dbm::new(-10.0)), -60.0 - 9.542_425_094_393_248);
        assert_eq!(own_product(&limits, 4, Dbm::new(-10.0)), own_product(&limits, 3, Dbm::new(-10.0)));
        let typical = Limits { intercepts: Guarantee::Typical, ..limits };
        assert_eq!(own_product(&typical, 2, Dbm::new(-10.0)), None);
    }
}
