//! How far below a power: `43 dB`, `43 dB + 10 log power`, or a slope over the distance from the carrier.

use std::fmt;
use std::str::FromStr;

use spurline_units::{Db, Hertz, QuantityError};
use thiserror::Error;

use crate::world::World;

/// An attenuation: the sum of its parts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Attenuation(pub(crate) Vec<Part>);

/// One part.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Part {
    /// `43 dB`.
    Fixed(Db),
    /// `10 log power`.
    Growth(Growth),
    /// `7.27 dB/kHz from 2.88 kHz`: a straight line over the offset.
    Ramp { per_khz: f64, from: Hertz },
    /// `83 log offset/5 kHz`.
    Log { per_decade: f64, over: Hertz },
    /// `29 log offset^2/11 kHz^2`.
    LogOfSquare { per_decade: f64, over_khz2: f64 },
}

/// `10 log power`: this many decibels per decade of a power in watts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Growth {
    /// From 0 to 10.
    pub(crate) per_decade: f64,
    /// `power` for the power that the decibels count from, or the name of a power fact such as `pep`.
    pub(crate) of: String,
}

/// Why a text is not an attenuation.
#[derive(Clone, Debug, PartialEq, Error)]
pub(crate) enum FormulaError {
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    #[error("expected `10 log power` behind the `+`, found `{0}`\nwrite for example `43 dB + 10 log power`")]
    NotALogarithm(String),
    #[error(
        "expected a factor of the logarithm from 0 to 10, found `{0}`\nabove 10 the limit would fall while the power rises"
    )]
    Factor(String),
    #[error(
        "expected a figure above 0, found `{0}`\nwrite for example `83 log offset/5 kHz`, `29 log offset^2/11 kHz^2` or \
         `7.27 dB/kHz from 2.88 kHz`"
    )]
    Figure(String),
}

impl Attenuation {
    /// The whole at an offset and a power, with what it was worked out from.
    ///
    /// # Panics
    ///
    /// If it goes by an offset that is not given: the caller has looked.
    pub(crate) fn at(&self, world: &World<'_>) -> (Db, Vec<String>) {
        let mut total = Db::new(0.0);
        let mut of = Vec::new();
        if self.goes_by_offset() {
            of.push(format!("offset {}", offset(world)));
        }
        for part in &self.0 {
            total += match part {
                Part::Fixed(fixed) => *fixed,
                Part::Growth(growth) => {
                    let power = world.power_of(&growth.of);
                    of.push(format!("{} = {power}", growth.of));
                    Db::new(growth.per_decade * power.get().log10())
                }
                Part::Ramp { per_khz, from } => Db::new(per_khz * khz(offset(world) - *from)),
                Part::Log { per_decade, over } => Db::new(per_decade * (offset(world) / *over).log10()),
                Part::LogOfSquare { per_decade, over_khz2 } => {
                    Db::new(per_decade * (khz(offset(world)).powi(2) / over_khz2).log10())
                }
            };
        }
        (total, of)
    }

    /// Whether it goes with the offset of the emission.
    pub(crate) fn goes_by_offset(&self) -> bool {
        let by_offset =
            |part: &Part| matches!(part, Part::Ramp { .. } | Part::Log { .. } | Part::LogOfSquare { .. });
        self.0.iter().any(by_offset)
    }

    /// The part that grows with a power.
    pub(crate) fn growth(&self) -> Option<&Growth> {
        self.0.iter().find_map(|part| if let Part::Growth(growth) = part { Some(growth) } else { None })
    }
}

fn khz(frequency: Hertz) -> f64 {
    frequency.get() / 1e3
}

fn offset(world: &World<'_>) -> Hertz {
    world.offset().expect("a limit by the offset is asked for only where it is given")
}

impl FromStr for Attenuation {
    type Err = FormulaError;

    fn from_str(text: &str) -> Result<Self, FormulaError> {
        // `1e+3 dB` has a plus of its own, so the parts are told apart by the blanks around it.
        let parts = text.split(" + ").enumerate().map(|(place, text)| part(text.trim(), place > 0));
        Ok(Self(parts.collect::<Result<_, _>>()?))
    }
}

/// One part; behind a `+` there is a logarithm or a slope, in front of it decibels as well.
fn part(text: &str, behind: bool) -> Result<Part, FormulaError> {
    if let Some((slope, from)) = text.split_once("dB/kHz from") {
        let from: Hertz = from.trim().parse()?;
        return Ok(Part::Ramp { per_khz: figure(slope)?, from });
    }
    let Some((factor, of)) = text.split_once(" log ") else {
        if behind {
            return Err(FormulaError::NotALogarithm(text.to_owned()));
        }
        return Ok(Part::Fixed(text.parse()?));
    };
    let of = of.trim();
    if let Some(over) = of.strip_prefix("offset^2/") {
        let over = over.strip_suffix("kHz^2").ok_or_else(|| FormulaError::Figure(text.to_owned()))?;
        return Ok(Part::LogOfSquare { per_decade: figure(factor)?, over_khz2: figure(over)? });
    }
    if let Some(over) = of.strip_prefix("offset/") {
        let over: Hertz = over.trim().parse()?;
        if over.get() <= 0.0 {
            return Err(FormulaError::Figure(text.to_owned()));
        }
        return Ok(Part::Log { per_decade: figure(factor)?, over });
    }
    if !behind {
        // A power in watts alone is no distance from a level.
        return Ok(Part::Fixed(text.parse()?));
    }
    match factor.trim().parse::<f64>() {
        Ok(per_decade) if (0.0..=10.0).contains(&per_decade) && !of.contains(char::is_whitespace) => {
            Ok(Part::Growth(Growth { per_decade, of: of.to_owned() }))
        }
        Ok(_) if !of.contains(char::is_whitespace) => Err(FormulaError::Factor(factor.trim().to_owned())),
        Ok(_) | Err(_) => Err(FormulaError::NotALogarithm(text.to_owned())),
    }
}

fn figure(text: &str) -> Result<f64, FormulaError> {
    let figure = text.trim().parse::<f64>().ok().filter(|figure| *figure > 0.0 && figure.is_finite());
    figure.ok_or_else(|| FormulaError::Figure(text.trim().to_owned()))
}

impl fmt::Display for Attenuation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, part) in self.0.iter().enumerate() {
            if place > 0 {
                f.write_str(" + ")?;
            }
            match part {
                Part::Fixed(fixed) => write!(f, "{} dB", fixed.get())?,
                Part::Growth(growth) => write!(f, "{} log {}", growth.per_decade, growth.of)?,
                Part::Ramp { per_khz, from } => write!(f, "{per_khz} dB/kHz from {from}")?,
                Part::Log { per_decade, over } => write!(f, "{per_decade} log offset/{over}")?,
                Part::LogOfSquare { per_decade, over_khz2 } => {
                    write!(f, "{per_decade} log offset^2/{over_khz2} kHz^2")?;
                }
            }
        }
        Ok(())
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
        assert!(error("83 log offset/0 kHz").contains("above 0"));
        assert!(error("x log offset/5 kHz").contains("above 0"));
        assert!(error("29 log offset^2/11 kHz").contains("kHz^2"));
        assert!(error("7.27 dB/kHz from 2.88").contains("with its unit"));
    }

    fn any_part() -> impl Strategy<Value = Part> {
        let khz = |khz: f64| Hertz::new((khz * 1e3).round());
        prop_oneof![
            (0.0..10.0f64).prop_map(|per_decade| Part::Growth(Growth { per_decade, of: "pep".to_owned() })),
            (0.1..50.0f64, 0.1..50.0f64)
                .prop_map(move |(per_khz, from)| Part::Ramp { per_khz, from: khz(from) }),
            (0.1..200.0f64, 0.1..50.0f64)
                .prop_map(move |(per_decade, over)| Part::Log { per_decade, over: khz(over) }),
            (0.1..200.0f64, 0.1..50.0f64)
                .prop_map(|(per_decade, over_khz2)| Part::LogOfSquare { per_decade, over_khz2 }),
        ]
    }

    proptest! {
        #[test]
        fn printing_then_reading_gives_the_same(
            fixed in -300.0..300.0f64, more in prop::collection::vec(any_part(), 0..3),
        ) {
            let mut parts = vec![Part::Fixed(Db::new(fixed))];
            parts.extend(more);
            let attenuation = Attenuation(parts);
            prop_assert_eq!(attenuation.to_string().parse::<Attenuation>().unwrap(), attenuation);
        }

        #[test]
        fn reading_never_panics(text in "[-0-9a-zA-Z.+ /^]{0,24}") {
            drop(text.parse::<Attenuation>());
        }
    }
}
