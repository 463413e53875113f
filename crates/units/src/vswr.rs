//! The standing wave ratio of a port.

use std::str::FromStr;

use thiserror::Error;

/// A voltage standing wave ratio: finite, and 1 (a perfect match) or more.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Vswr(f64);

/// Why a text is not a standing wave ratio. A second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("expected a VSWR of 1 or more, found {0}\nwrite a plain number; 1 is a perfect match")]
pub struct VswrError(String);

impl Vswr {
    /// The ratio; `None` unless it is finite and at least 1.
    #[must_use]
    pub fn new(ratio: f64) -> Option<Self> {
        (ratio.is_finite() && ratio >= 1.0).then_some(Self(ratio))
    }

    /// The ratio.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The magnitude of the reflection behind it, from 0 to below 1.
    #[must_use]
    pub fn reflection(self) -> f64 {
        (self.0 - 1.0) / (self.0 + 1.0)
    }
}

impl FromStr for Vswr {
    type Err = VswrError;

    fn from_str(text: &str) -> Result<Self, VswrError> {
        let number = text.trim().parse().ok().and_then(Self::new);
        number.ok_or_else(|| VswrError(text.trim().to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition, |G| = (VSWR - 1) / (VSWR + 1): a ratio of 2 reflects a third.
    #[test]
    fn a_ratio_stands_for_a_reflection() {
        assert!(("2".parse::<Vswr>().unwrap().reflection() - 1.0 / 3.0).abs() < 1e-15);
        assert_eq!(Vswr::new(1.0).unwrap().reflection(), 0.0);
        for wrong in ["0.9", "-2", "inf", "NaN", "1.2:1", ""] {
            assert!(wrong.parse::<Vswr>().is_err(), "{wrong}");
        }
    }
}
