//! Power in watts, where powers may be added, and power as people write it: `5 W` or `37 dBm`.

use std::fmt;
use std::iter::Sum;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::electrical::{Ohms, Volts};
use crate::error::QuantityError;
use crate::level::{Dbm, LEVEL};
use crate::notation::Notation;
use crate::quantity::{additive, quantity};
use crate::unit_hint;

pub(crate) const POWER: Notation = Notation {
    what: "a power",
    example: "5 W",
    units: &[("W", 1.0), ("mW", 1e-3), ("uW", 1e-6), ("nW", 1e-9), ("pW", 1e-12), ("fW", 1e-15), ("kW", 1e3)],
    least: 0.0,
    most: 1e15,
    bound: "a power is at most 1000000000000 kW",
    digits: None,
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

    /// The effective (rms) voltage with which this power lies across a resistance.
    ///
    /// # Panics
    ///
    /// If the power or the resistance is below zero; neither is when it was read from text.
    #[must_use]
    pub fn volts_across(self, resistance: Ohms) -> Volts {
        Volts::new((self.get() * resistance.get()).sqrt())
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
        let watts: Watts = text.parse().map_err(|error| match error {
            QuantityError::WrongUnit { unit, .. } => unit_hint::wrong_unit(&[&POWER, &LEVEL], &unit),
            other => other,
        })?;
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
