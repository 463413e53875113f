//! Levels in dBm and ratios in dB, and the few sums of them that mean something.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::power::Watts;
use crate::quantity::scalar;
use crate::text::{Notation, QuantityError};

const RATIO: Notation = Notation {
    what: "a ratio in dB",
    example: "30 dB",
    units: &[("dB", 1.0)],
    signed: true,
    most: 300.0,
    bound: "a ratio is at most 300 dB, up or down",
};
const LEVEL: Notation = Notation {
    what: "a level in dBm",
    example: "-16 dBm",
    units: &[("dBm", 1.0)],
    signed: true,
    most: 300.0,
    bound: "a level is from -300 dBm to 300 dBm",
};

/// A power level relative to one milliwatt, in dBm.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Dbm(f64);

/// A ratio of two powers, in dB: gain, loss (as a positive number), margin or uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Db(f64);

macro_rules! logarithmic {
    ($name:ident, $unit:literal, $notation:ident) => {
        scalar!($name, $notation, $unit);

        /// Two digits behind the point unless a precision is asked for.
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let digits = f.precision().unwrap_or(2);
                let text = format!("{:.digits$}", self.0);
                let text = if text.trim_start_matches('-').bytes().all(|b| matches!(b, b'0' | b'.')) {
                    text.trim_start_matches('-').to_owned()
                } else {
                    text
                };
                write!(f, "{text} {}", $unit)
            }
        }
    };
}

logarithmic!(Dbm, "dBm", LEVEL);
logarithmic!(Db, "dB", RATIO);

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
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn reads_and_prints() {
        assert_eq!("-16.02 dBm".parse::<Dbm>().unwrap(), Dbm::new(-16.02));
        assert_eq!("30dB".parse::<Db>().unwrap(), Db::new(30.0));
        assert_eq!(Dbm::new(-0.001).to_string(), "0.00 dBm");
        assert_eq!(format!("{:.1}", Db::new(4.04)), "4.0 dB");
        assert!("30 dBm".parse::<Db>().is_err());
        assert!("30 db".parse::<Db>().unwrap_err().to_string().contains("`dB`"));
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

    /// numpy: 10**(3/10), 10**(6/20).
    #[test]
    fn ratios_of_power_and_amplitude_differ() {
        assert!((Db::new(3.0).power_ratio() - 1.995_262_314_968_88).abs() < 1e-12);
        assert!((Db::new(6.0).amplitude_ratio() - 1.995_262_314_968_88).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn watts_and_back(level in -174.0..80.0f64) {
            let level = Dbm::new(level);
            prop_assert!((level.to_watts().to_dbm() - level).abs().get() < 1e-9);
        }

        #[test]
        fn a_plus_b_minus_a_is_b(a in -200.0..200.0f64, b in -200.0..200.0f64) {
            let (a, b) = (Dbm::new(a), Dbm::new(b));
            prop_assert!((a + (b - a) - b).abs().get() < 1e-9);
        }
    }
}
