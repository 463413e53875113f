//! How far below the mean power: `43 dB`, or `43 dB + 10 log power`.

use std::fmt;
use std::str::FromStr;

use spurline_units::{Db, QuantityError};
use thiserror::Error;

/// An attenuation: a fixed number of decibels, or one that grows with the logarithm of a power in watts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Attenuation {
    /// The part that stays.
    pub(crate) fixed: Db,
    /// The part that grows.
    pub(crate) growth: Option<Growth>,
}

/// `10 log power`: this many decibels per decade of a power.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Growth {
    /// From 0 to 10.
    pub(crate) per_decade: f64,
    /// `power` for the mean power, or the name of a power fact such as `pep`.
    pub(crate) of: String,
}

/// Why a text is not an attenuation.
#[derive(Clone, Debug, PartialEq, Error)]
pub(crate) enum FormulaError {
    #[error(transparent)]
    Fixed(#[from] QuantityError),
    #[error("expected `10 log power` behind the `+`, found `{0}`\nwrite for example `43 dB + 10 log power`")]
    NotALogarithm(String),
    #[error(
        "expected a factor of the logarithm from 0 to 10, found `{0}`\nabove 10 the limit would fall while the power rises"
    )]
    Factor(String),
}

impl FromStr for Attenuation {
    type Err = FormulaError;

    fn from_str(text: &str) -> Result<Self, FormulaError> {
        // `1e+3 dB` has a plus of its own, so the parts are told apart by the blanks around it.
        let (fixed, growth) =
            text.split_once(" + ").map_or((text, None), |(fixed, rest)| (fixed, Some(rest)));
        let fixed: Db = fixed.parse()?;
        Ok(Self { fixed, growth: growth.map(Growth::from_str).transpose()? })
    }
}

impl FromStr for Growth {
    type Err = FormulaError;

    fn from_str(text: &str) -> Result<Self, FormulaError> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let [factor, "log", of] = words.as_slice() else {
            return Err(FormulaError::NotALogarithm(text.trim().to_owned()));
        };
        match factor.parse::<f64>() {
            Ok(per_decade) if (0.0..=10.0).contains(&per_decade) => {
                Ok(Self { per_decade, of: (*of).to_owned() })
            }
            Ok(_) => Err(FormulaError::Factor((*factor).to_owned())),
            Err(_) => Err(FormulaError::NotALogarithm(text.trim().to_owned())),
        }
    }
}

impl fmt::Display for Attenuation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} dB", self.fixed.get())?;
        self.growth.as_ref().map_or(Ok(()), |growth| write!(f, " + {} log {}", growth.per_decade, growth.of))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn slips_are_named() {
        let error = |text: &str| text.parse::<Attenuation>().unwrap_err().to_string();
        assert!(error("43").contains("with its unit"));
        assert!(error("43 dB + log power").starts_with("expected `10 log power`"));
        assert!(error("43 dB + 20 log power").contains("from 0 to 10"));
        assert!(error("4300 dB").contains("at most 300 dB"));
    }

    proptest! {
        #[test]
        fn printing_then_reading_gives_the_same(fixed in -300.0..300.0f64, growth in prop::option::of(0.0..10.0f64)) {
            let growth = growth.map(|per_decade| Growth { per_decade, of: "pep".to_owned() });
            let attenuation = Attenuation { fixed: Db::new(fixed), growth };
            prop_assert_eq!(attenuation.to_string().parse::<Attenuation>().unwrap(), attenuation);
        }

        #[test]
        fn reading_never_panics(text in "[-0-9a-zA-Z.+ ]{0,24}") {
            drop(text.parse::<Attenuation>());
        }
    }
}
