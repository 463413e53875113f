//! Frequencies and bandwidths.

use crate::notation::Notation;
use crate::quantity::{additive, quantity};

pub(crate) const FREQUENCY: Notation = Notation {
    what: "a frequency",
    example: "145.5 MHz",
    // No millihertz: nothing here is that slow, and `mHz` is always a slip for `MHz`.
    units: &[("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6), ("GHz", 1e9)],
    least: 0.0,
    most: 1e13,
    bound: "a frequency is at most 10000 GHz",
    digits: None,
};

quantity!(
    /// A frequency or a bandwidth, in hertz; never below zero when it is read from text.
    Hertz, FREQUENCY, "hertz"
);
additive!(Hertz);

impl Hertz {
    /// Makes a frequency from megahertz.
    #[must_use]
    pub fn from_mhz(megahertz: f64) -> Self {
        Self::new(megahertz * 1e6)
    }

    /// The frequency in megahertz.
    #[must_use]
    pub fn mhz(self) -> f64 {
        self.get() / 1e6
    }

    /// The harmonic of this order; order 1 is the frequency itself.
    #[must_use]
    pub fn harmonic(self, order: u32) -> Self {
        self * f64::from(order)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::QuantityError;

    #[test]
    fn reads_frequencies_with_their_prefix() {
        for (text, hertz) in
            [("145.5 MHz", 145.5e6), ("9 kHz", 9e3), ("1.5GHz", 1.5e9), ("12 Hz", 12.0), ("1e3 Hz", 1e3)]
        {
            assert_eq!(text.parse::<Hertz>().unwrap().get(), hertz, "{text}");
        }
    }

    #[test]
    fn what_is_no_frequency_is_refused() {
        assert!(matches!("145.5".parse::<Hertz>(), Err(QuantityError::NoUnit { .. })));
        assert!(matches!("".parse::<Hertz>(), Err(QuantityError::NotANumber { .. })));
        assert!(matches!("-1 Hz".parse::<Hertz>(), Err(QuantityError::OutOfRange { .. })));
        assert!(matches!("1e999 Hz".parse::<Hertz>(), Err(QuantityError::OutOfRange { .. })));
        assert!(matches!("5 dB".parse::<Hertz>(), Err(QuantityError::WrongUnit { .. })));
    }

    #[test]
    fn prints_with_a_fitting_prefix() {
        assert_eq!(Hertz::new(144.2e6).to_string(), "144.2 MHz");
        assert_eq!(Hertz::new(0.0).to_string(), "0 Hz");
        assert_eq!(Hertz::new(1.8e9).to_string(), "1.8 GHz");
    }

    /// Common practice: the harmonics of a 2 m carrier fall at 2, 3, 4 and 5 times it.
    #[test]
    fn harmonics_are_exact_multiples() {
        let carrier: Hertz = "144.2 MHz".parse().unwrap();
        for (order, text) in [(2, "288.4 MHz"), (3, "432.6 MHz"), (4, "576.8 MHz"), (5, "721 MHz")] {
            assert_eq!(carrier.harmonic(order).to_string(), text);
        }
    }
}
