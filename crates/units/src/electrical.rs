//! Voltage, current and resistance.

use crate::notation::Notation;
use crate::quantity::{additive, quantity};

pub(crate) const VOLTAGE: Notation = Notation {
    what: "a voltage",
    example: "7.4 V",
    units: &[("V", 1.0), ("mV", 1e-3), ("uV", 1e-6)],
    least: -1e6,
    most: 1e6,
    bound: "a voltage is at most 1000000 V, of either sign",
    digits: None,
};
pub(crate) const CURRENT: Notation = Notation {
    what: "a current",
    example: "2.5 A",
    units: &[("A", 1.0), ("mA", 1e-3)],
    least: -1e6,
    most: 1e6,
    bound: "a current is at most 1000000 A, of either sign",
    digits: None,
};
pub(crate) const RESISTANCE: Notation = Notation {
    what: "a resistance",
    example: "50 ohm",
    units: &[("ohm", 1.0)],
    least: 0.0,
    most: 1e12,
    bound: "a resistance is at most 1000000000000 ohm",
    digits: None,
};

quantity!(
    /// A voltage, in volts: direct, or effective (rms) where it alternates.
    Volts, VOLTAGE, "volts"
);
quantity!(
    /// A direct current, in amperes.
    Amperes, CURRENT, "amperes"
);
quantity!(
    /// A resistance, in ohms; never below zero when it is read from text.
    Ohms, RESISTANCE, "ohms"
);
additive!(Volts);
additive!(Amperes);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints() {
        assert_eq!("-7.4V".parse(), Ok(Volts::new(-7.4)));
        assert_eq!("1.2 \u{b5}V".parse(), Ok(Volts::new(1.2e-6)));
        assert_eq!(Volts::new(1.2e-6).to_string(), "1.2 uV");
        assert_eq!(Amperes::new(0.025).to_string(), "25 mA");
        // The Greek letter and the ohm sign look alike.
        for text in ["50 ohm", "50ohm", "50 \u{3a9}", "50 \u{2126}"] {
            assert_eq!(text.parse(), Ok(Ohms::new(50.0)), "{text}");
        }
        assert_eq!(Ohms::new(75.0).to_string(), "75 ohm");
        assert!("-50 ohm".parse::<Ohms>().is_err());
    }
}
