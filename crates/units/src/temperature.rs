//! Temperature.

use serde::{Deserialize, Serialize};

use crate::notation::Notation;
use crate::quantity::scalar;

pub(crate) const TEMPERATURE: Notation = Notation {
    what: "a temperature",
    example: "25 °C",
    units: &[("°C", 1.0), ("degC", 1.0)],
    least: -273.15,
    most: 1e4,
    bound: "a temperature is from -273.15 °C to 10000 °C",
    digits: None,
};

/// A temperature, in degrees Celsius; never below absolute zero when it is read from text.
///
/// Temperatures on this scale compare, but neither add nor scale: 20 °C is not twice 10 °C.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Celsius(f64);

scalar!(Celsius, TEMPERATURE, "degrees Celsius");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints() {
        for (text, degrees) in [("25 °C", 25.0), ("-40degC", -40.0), ("-273.15 °C", -273.15)] {
            assert_eq!(text.parse(), Ok(Celsius::new(degrees)), "{text}");
        }
        assert_eq!(Celsius::new(-0.5).to_string(), "-0.5 °C");
    }

    #[test]
    fn nothing_is_colder_than_absolute_zero() {
        assert_eq!(
            "-273.16 °C".parse::<Celsius>().unwrap_err().to_string(),
            "expected a temperature, found `-273.16 °C`\na temperature is from -273.15 °C to 10000 °C"
        );
    }
}
