//! What the analyser itself makes of a carrier: second and third order products, by its guaranteed intercepts.

use spurline_profile::{Intercepts, Limits};
use spurline_units::{Db, Dbm};

/// The most that the analyser can make at a harmonic of a carrier of `mixer` at the mixer, at the mixer; `None` where
/// nobody guarantees it: a typical intercept proves nothing.
///
/// Second order: 2P - SHI. Third harmonic of a single tone: 20 log10(3) below the two-tone product 3P - 2 TOI of
/// a plain cubic. No figure is published for higher orders; each is weaker than the one before and falls faster with
/// the level (common practice), so that none makes more than the third.
pub(crate) fn own_product(limits: &Limits, order: u32, mixer: Dbm) -> Option<Dbm> {
    match (limits.intercepts, order) {
        (Intercepts::Typical, _) => None,
        (Intercepts::Guaranteed, 2) => Some(mixer + (mixer - limits.second_intercept)),
        (Intercepts::Guaranteed, _) => {
            Some(mixer + (mixer - limits.third_intercept) * 2.0 - Db::new(20.0 * 3f64.log10()))
        }
    }
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
            intercepts: Intercepts::Guaranteed,
        };
        close(own_product(&limits, 2, Dbm::new(-10.0)), -65.0);
        close(own_product(&limits, 3, Dbm::new(-10.0)), -60.0 - 9.542_425_094_393_248);
        assert_eq!(own_product(&limits, 4, Dbm::new(-10.0)), own_product(&limits, 3, Dbm::new(-10.0)));
        let typical = Limits { intercepts: Intercepts::Typical, ..limits };
        assert_eq!(own_product(&typical, 2, Dbm::new(-10.0)), None);
    }
}
