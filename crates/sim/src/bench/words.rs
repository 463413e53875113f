//! Two quantities that only the truth of a bench needs: an angle and a length.

use std::str::FromStr;

use thiserror::Error;

/// An angle, written `40 deg`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Angle {
    /// The angle in radians.
    pub(crate) radians: f64,
}

/// A length, written `1.2 m`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Length {
    /// The length in metres, never below zero.
    pub(crate) metres: f64,
}

/// Why a text is neither.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("expected {expected}, found `{found}`\nwrite a number and the unit, for example `{example}`")]
pub(crate) struct WordError {
    expected: &'static str,
    found: String,
    example: &'static str,
}

impl FromStr for Angle {
    type Err = WordError;

    fn from_str(text: &str) -> Result<Self, WordError> {
        let degrees = number_before(text, "deg");
        let error = || WordError { expected: "an angle", found: text.to_owned(), example: "40 deg" };
        degrees.map(|degrees| Self { radians: degrees.to_radians() }).ok_or_else(error)
    }
}

impl FromStr for Length {
    type Err = WordError;

    fn from_str(text: &str) -> Result<Self, WordError> {
        let metres = number_before(text, "m").filter(|metres| *metres >= 0.0);
        let error = || WordError { expected: "a length", found: text.to_owned(), example: "1.2 m" };
        metres.map(|metres| Self { metres }).ok_or_else(error)
    }
}

fn number_before(text: &str, unit: &str) -> Option<f64> {
    text.trim().strip_suffix(unit)?.trim_end().parse().ok().filter(|value: &f64| value.is_finite())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn angles_and_lengths_carry_their_unit() {
        assert_eq!("180 deg".parse(), Ok(Angle { radians: std::f64::consts::PI }));
        assert_eq!("1.2m".parse(), Ok(Length { metres: 1.2 }));
        for text in ["40", "40 m", "deg", "inf deg", ""] {
            assert!(text.parse::<Angle>().is_err(), "{text}");
        }
        assert!("-1 m".parse::<Length>().is_err());
    }

    proptest! {
        #[test]
        fn reading_never_panics(text in "\\PC{0,12}") {
            drop(text.parse::<Angle>());
            drop(text.parse::<Length>());
        }
    }
}
