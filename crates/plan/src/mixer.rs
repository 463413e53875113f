//! What the analyser itself makes of a carrier: second and third order products, by its guaranteed intercepts.

use spurline_profile::AnalyserProfile;
use spurline_units::{Db, Dbm};

/// The most that the analyser can make at a harmonic, at its mixer.
///
/// Second order: 2P - SHI. Third harmonic of a single tone: 20 log10(3) below the two-tone product 3P - 2 TOI of
/// a plain cubic. No guaranteed figure is published for higher orders; they fall faster still with the level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnProducts {
    second_intercept: Dbm,
    third_intercept: Dbm,
}

impl OwnProducts {
    /// By the intercepts of a profile.
    #[must_use]
    pub fn of(profile: &AnalyserProfile) -> Self {
        Self { second_intercept: profile.second_intercept, third_intercept: profile.third_intercept }
    }

    /// The product of an order for a carrier of `mixer` at the mixer, at the mixer; `None` above the third.
    #[must_use]
    pub fn at_mixer(&self, order: u32, mixer: Dbm) -> Option<Dbm> {
        match order {
            2 => Some(mixer + (mixer - self.second_intercept)),
            3 => Some(mixer + (mixer - self.third_intercept) * 2.0 - Db::new(20.0 * 3f64.log10())),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: Option<Dbm>, expected: f64) {
        let found = found.unwrap().get();
        assert!((found - expected).abs() < 1e-9, "found {found}, expected {expected}");
    }

    /// 2P - SHI and 3P - 2 TOI are the defining formulas of the intercepts; SHI +45 dBm at -10 dBm gives -65 dBm,
    /// TOI +15 dBm at -10 dBm gives -60 dBm for two tones, 9.5424 dB more for the harmonic of one.
    #[test]
    fn products_follow_the_intercepts() {
        let own = OwnProducts { second_intercept: Dbm::new(45.0), third_intercept: Dbm::new(15.0) };
        close(own.at_mixer(2, Dbm::new(-10.0)), -65.0);
        close(own.at_mixer(3, Dbm::new(-10.0)), -60.0 - 9.542_425_094_393_248);
        assert_eq!(own.at_mixer(4, Dbm::new(-10.0)), None);
    }
}
