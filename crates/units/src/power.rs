//! Power in watts, where powers may be added, and power as people write it: `5 W` or `37 dBm`.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Sub};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::level::Dbm;
use crate::quantity::{additive, quantity, scalar};
use crate::text::{Notation, QuantityError};

const POWER: Notation = Notation {
    what: "a power",
    example: "5 W",
    units: &[
        ("W", 1.0),
        ("mW", 1e-3),
        ("uW", 1e-6),
        ("µW", 1e-6),
        ("nW", 1e-9),
        ("pW", 1e-12),
        ("fW", 1e-15),
        ("kW", 1e3),
    ],
    signed: false,
    most: 1e15,
    bound: "a power is at most 1000000000000 kW",
};

quantity!(
    /// A power in watts; never below zero when it is read from text.
    Watts, POWER, "watts"
);
additive!(Watts);

impl Watts {
    /// The same power as a level.
    ///
    /// # Panics
    ///
    /// If the power is not above zero: nothing has no level.
    #[must_use]
    pub fn to_dbm(self) -> Dbm {
        assert!(self.get() > 0.0, "a power that becomes a level is above zero");
        Dbm::new(10.0 * self.get().log10() + 30.0)
    }
}

impl Sum for Watts {
    fn sum<I: Iterator<Item = Self>>(powers: I) -> Self {
        powers.fold(Self::new(0.0), |total, power| total + power)
    }
}

/// A power as it was written, in watts or in dBm.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Power(Watts);

impl Power {
    /// The power in watts, above zero.
    #[must_use]
    pub const fn watts(self) -> Watts {
        self.0
    }

    /// The power as a level.
    #[must_use]
    pub fn dbm(self) -> Dbm {
        self.0.to_dbm()
    }
}

impl FromStr for Power {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        if text.trim_end().ends_with("dBm") {
            return text.parse::<Dbm>().map(|level| Self(level.to_watts()));
        }
        let watts: Watts = text.parse()?;
        if watts.get() > 0.0 {
            Ok(Self(watts))
        } else {
            Err(QuantityError::OutOfRange {
                expected: "a power",
                found: text.trim().to_owned(),
                bound: "it must be above zero",
            })
        }
    }
}

impl fmt::Display for Power {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice for 5 W and 25 uW; the others are 10 log10(P / 1 mW) by numpy 2.4.6.
    #[test]
    fn watts_become_dbm() {
        for (text, dbm, tolerance) in [
            ("5 W", 37.0, 0.05),
            ("25 uW", -16.0, 0.05),
            ("25 µW", -16.020_6, 1e-4),
            ("10 uW", -20.0, 1e-9),
            ("0.25 uW", -36.020_6, 1e-4),
            ("1 nW", -60.0, 1e-9),
            ("5 W", 36.989_7, 1e-4),
            ("50 W", 46.989_7, 1e-4),
            ("50 mW", 16.989_7, 1e-4),
            ("1.5 kW", 61.760_9, 1e-4),
        ] {
            let level = text.parse::<Watts>().unwrap().to_dbm();
            assert!((level.get() - dbm).abs() < tolerance, "{text} is {level}, expected {dbm}");
        }
    }

    /// numpy 2.4.6: -40 dBm and -43 dBm together, and the power mean of -60 and -50 dBm.
    #[test]
    fn powers_add_in_watts() {
        let sum: Watts = [Dbm::new(-40.0), Dbm::new(-43.0)].into_iter().map(Dbm::to_watts).sum();
        assert!((sum.to_dbm().get() - -38.235_7).abs() < 1e-4);
        let sum: Watts = [Dbm::new(-60.0), Dbm::new(-50.0)].into_iter().map(Dbm::to_watts).sum();
        assert!(((sum / 2.0).to_dbm().get() - -52.596_4).abs() < 1e-4);
    }

    #[test]
    fn a_power_may_be_written_either_way() {
        assert!(("37 dBm".parse::<Power>().unwrap().watts().get() - 5.011_872).abs() < 1e-6);
        assert!("1e300 dBm".parse::<Power>().is_err() && "-4000 dBm".parse::<Power>().is_err());
        assert!("0 W".parse::<Power>().is_err());
        assert!("5".parse::<Power>().is_err());
        assert_eq!(Watts::new(0.000_025).to_string(), "25 uW");
        assert_eq!(format!("{:.2}", Watts::new(4.8123)), "4.81 W");
    }
}
