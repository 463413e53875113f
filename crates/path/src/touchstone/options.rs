//! The option line: frequency unit, parameter, number format and reference.

use num_complex::Complex64;

use super::error::{TouchstoneError, shown};

/// What the option line says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Options {
    /// Hertz to the unit of frequency.
    pub(super) hertz: f64,
    /// How a parameter is written as two numbers.
    pub(super) format: Format,
}

/// How a parameter is written as two numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// Decibels and degrees.
    Decibels,
    /// Magnitude and degrees.
    Magnitude,
    /// Real and imaginary part.
    Cartesian,
}

/// What the format says for what is left out.
pub(super) const DEFAULT: Options = Options { hertz: 1e9, format: Format::Magnitude };

impl Options {
    /// Reads what stands behind `#`, in any order and case.
    pub(super) fn parse(text: &str, line: usize) -> Result<Self, TouchstoneError> {
        let mut options = DEFAULT;
        let mut words = text.split_whitespace();
        while let Some(word) = words.next() {
            match word.to_ascii_uppercase().as_str() {
                "HZ" => options.hertz = 1.0,
                "KHZ" => options.hertz = 1e3,
                "MHZ" => options.hertz = 1e6,
                "GHZ" => options.hertz = 1e9,
                "DB" => options.format = Format::Decibels,
                "MA" => options.format = Format::Magnitude,
                "RI" => options.format = Format::Cartesian,
                "S" => {}
                "R" => fifty_ohm(words.next().unwrap_or(""), line)?,
                upper => {
                    return Err(match upper.chars().next() {
                        Some(found @ ('Y' | 'Z' | 'G' | 'H')) if upper.len() == 1 => {
                            TouchstoneError::NotScattering { line, found }
                        }
                        _ => TouchstoneError::UnknownOption { line, found: shown(word) },
                    });
                }
            }
        }
        Ok(options)
    }
}

fn fifty_ohm(text: &str, line: usize) -> Result<(), TouchstoneError> {
    match text.parse::<f64>() {
        Ok(50.0) => Ok(()),
        Ok(_) | Err(_) => Err(TouchstoneError::Reference { line, found: shown(text) }),
    }
}

impl Format {
    /// The parameter that two numbers stand for.
    pub(super) fn parameter(self, first: f64, second: f64) -> Complex64 {
        match self {
            Self::Decibels => Complex64::from_polar(10f64.powf(first / 20.0), second.to_radians()),
            Self::Magnitude => Complex64::from_polar(first, second.to_radians()),
            Self::Cartesian => Complex64::new(first, second),
        }
    }
}
