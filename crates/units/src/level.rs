//! Levels in dBm and ratios in dB, and the few sums of them that mean something.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

use crate::notation::Notation;
use crate::power::Watts;
use crate::quantity::scalar;

pub(crate) const RATIO: Notation = Notation {
    what: "a ratio in dB",
    example: "30 dB",
    units: &[("dB", 1.0)],
    least: -300.0,
    most: 300.0,
    bound: "a ratio is at most 300 dB, up or down",
    digits: Some(2),
};
pub(crate) const LEVEL: Notation = Notation {
    what: "a level in dBm",
    example: "-16 dBm",
    units: &[("dBm", 1.0)],
    least: -300.0,
    most: 300.0,
    bound: "a level is from -300 dBm to 300 dBm",
    digits: Some(2),
};

/// A power level relative to one milliwatt, in dBm.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Dbm(f64);

/// A ratio of two powers, in dB: gain, loss (as a positive number), margin or uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Db(f64);

scalar!(Dbm, LEVEL, "dBm");
scalar!(Db, RATIO, "dB");

impl Dbm {
    /// The same power in watts.
    ///
    /// # Panics
    ///
    /// If it is more than a number can hold, from about 3100 dBm up; no level that is read from text is.
    #[must_use]
    pub fn to_watts(self) -> Watts {
        Watts::new(10f64.powf((self.0 - 30.0) / 10.0))
    }
}

impl Db {
    /// The ratio of powers as a plain number: 3.01 dB is about 2.
    #[must_use]
    pub fn power_ratio(self) -> f64 {
        10f64.powf(self.0 / 10.0)
    }

    /// The ratio of voltages as a plain number: 6.02 dB is about 2.
    #[must_use]
    pub fn amplitude_ratio(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }

    /// Without its sign.
    #[must_use]
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Add<Db> for Dbm {
    type Output = Dbm;
    fn add(self, gain: Db) -> Dbm {
        Dbm::new(self.0 + gain.0)
    }
}

impl Sub<Db> for Dbm {
    type Output = Dbm;
    fn sub(self, loss: Db) -> Dbm {
        Dbm::new(self.0 - loss.0)
    }
}

impl Sub for Dbm {
    type Output = Db;
    fn sub(self, other: Dbm) -> Db {
        Db::new(self.0 - other.0)
    }
}

impl Add for Db {
    type Output = Db;
    fn add(self, other: Db) -> Db {
        Db::new(self.0 + other.0)
    }
}

impl AddAssign for Db {
    fn add_assign(&mut self, other: Db) {
        *self = *self + other;
    }
}

impl Sub for Db {
    type Output = Db;
    fn sub(self, other: Db) -> Db {
        Db::new(self.0 - other.0)
    }
}

impl Neg for Db {
    type Output = Db;
    fn neg(self) -> Db {
        Db::new(-self.0)
    }
}

impl Mul<f64> for Db {
    type Output = Db;
    fn mul(self, factor: f64) -> Db {
        Db::new(self.0 * factor)
    }
}

impl Div<f64> for Db {
    type Output = Db;
    fn div(self, divisor: f64) -> Db {
        Db::new(self.0 / divisor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints() {
        assert_eq!("-16.02 dBm".parse::<Dbm>().unwrap(), Dbm::new(-16.02));
        assert_eq!("30dB".parse::<Db>().unwrap(), Db::new(30.0));
        assert_eq!(Dbm::new(-0.001).to_string(), "0.00 dBm");
        assert_eq!(format!("{:.1}", Db::new(4.04)), "4.0 dB");
        assert!("30 dBm".parse::<Db>().is_err() && "30 dB".parse::<Dbm>().is_err());
    }

    /// Common practice: a 40 dB pad brings 4.5 W down to -3.5 dBm.
    #[test]
    fn a_pad_lowers_a_level() {
        let after = Watts::new(4.5).to_dbm() - Db::new(40.0);
        assert!((after.get() - -3.5).abs() < 0.05, "{after}");
    }

    /// Common practice: -12 dBm against a limit of -16 dBm fails by 4 dB.
    #[test]
    fn margin_is_limit_minus_level() {
        assert_eq!(Dbm::new(-16.0) - Dbm::new(-12.0), Db::new(-4.0));
    }
}
