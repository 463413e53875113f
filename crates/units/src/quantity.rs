//! Frequency, time, voltage, current and plain shares: one value, one base unit, no surprises.

use std::fmt;
use std::ops::{Add, Div, Mul, Sub};
use std::str::FromStr;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::text::{Notation, QuantityError};

/// What every quantity of one finite number has: making, reading and comparing it.
macro_rules! scalar {
    ($name:ident, $notation:ident, $base:literal) => {
        impl $name {
            #[doc = concat!("Makes the quantity from a finite value in ", $base, ".")]
            ///
            /// # Panics
            ///
            /// If the value is not finite: a measured value is checked before it becomes a quantity.
            #[must_use]
            pub fn new(value: f64) -> Self {
                assert!(value.is_finite(), "a quantity is finite");
                Self(value)
            }

            #[doc = concat!("The value in ", $base, ".")]
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }

            /// The larger of the two.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The smaller of the two.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
        }

        impl FromStr for $name {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                $notation.parse(text).map(Self)
            }
        }
    };
}
pub(crate) use scalar;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $notation:ident, $base:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        scalar!($name, $notation, $base);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                $notation.format(self.0, f)
            }
        }
    };
}
pub(crate) use quantity;

macro_rules! additive {
    ($name:ident) => {
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::new(self.get() + other.get())
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::new(self.get() - other.get())
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self::new(self.get() * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self::new(self.get() / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.get() / other.get()
            }
        }
    };
}
pub(crate) use additive;

const FREQUENCY: Notation = Notation {
    what: "a frequency",
    example: "145.5 MHz",
    // No millihertz: nothing here is that slow, and `mHz` is always a slip for `MHz`.
    units: &[("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6), ("GHz", 1e9)],
    signed: false,
    most: 1e13,
    bound: "a frequency is at most 10000 GHz",
};
const TIME: Notation = Notation {
    what: "a time",
    example: "20 s",
    units: &[("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("µs", 1e-6), ("min", 60.0), ("h", 3600.0)],
    signed: false,
    most: 1e9,
    bound: "a time is at most 1000000000 s",
};
const VOLTAGE: Notation = Notation {
    what: "a voltage",
    example: "7.4 V",
    units: &[("V", 1.0), ("mV", 1e-3)],
    signed: true,
    most: 1e6,
    bound: "a voltage is at most 1000000 V",
};
const CURRENT: Notation = Notation {
    what: "a current",
    example: "2.5 A",
    units: &[("A", 1.0), ("mA", 1e-3)],
    signed: true,
    most: 1e6,
    bound: "a current is at most 1000000 A",
};
const SHARE: Notation = Notation {
    what: "a share",
    example: "99 %",
    units: &[("%", 1e-2), ("ppm", 1e-6)],
    signed: true,
    most: 1e6,
    bound: "a share is at most 100000000 %",
};

quantity!(
    /// A frequency or a bandwidth, in hertz; never below zero when it is read from text.
    Hertz, FREQUENCY, "hertz"
);
quantity!(
    /// A time span, in seconds; never below zero when it is read from text.
    Seconds, TIME, "seconds"
);
quantity!(
    /// A direct voltage, in volts.
    Volts, VOLTAGE, "volts"
);
quantity!(
    /// A direct current, in amperes.
    Amperes, CURRENT, "amperes"
);
quantity!(
    /// A share of something, as a plain number: `99 %` is 0.99.
    Ratio, SHARE, "parts of one"
);
additive!(Hertz);
additive!(Seconds);
additive!(Volts);
additive!(Amperes);

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

impl Seconds {
    /// The same span for the clock; a span below zero becomes zero, one beyond what can be read from text
    /// becomes that.
    #[must_use]
    pub fn duration(self) -> Duration {
        Duration::from_secs_f64(self.get().clamp(0.0, TIME.most))
    }
}

impl From<Duration> for Seconds {
    fn from(span: Duration) -> Self {
        Self::new(span.as_secs_f64())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn reads_frequencies_with_their_prefix() {
        for (text, hertz) in
            [("145.5 MHz", 145.5e6), ("9 kHz", 9e3), ("1.5GHz", 1.5e9), ("12 Hz", 12.0), ("1e3 Hz", 1e3)]
        {
            assert_eq!(text.parse::<Hertz>().unwrap().get(), hertz, "{text}");
        }
    }

    #[test]
    fn millihertz_is_refused_with_the_unit_that_was_meant() {
        let error = "145 mHz".parse::<Hertz>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "`mHz` is not a unit of a frequency\ndid you mean `MHz`? Case matters in a unit"
        );
    }

    #[test]
    fn a_bare_number_is_refused() {
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
        assert_eq!(Seconds::new(0.5).to_string(), "500 ms");
        assert_eq!(Ratio::new(0.99).to_string(), "99 %");
    }

    /// Common practice: the harmonics of a 2 m carrier fall at 2, 3, 4 and 5 times it.
    #[test]
    fn harmonics_are_exact_multiples() {
        let carrier: Hertz = "144.2 MHz".parse().unwrap();
        for (order, text) in [(2, "288.4 MHz"), (3, "432.6 MHz"), (4, "576.8 MHz"), (5, "721 MHz")] {
            assert_eq!(carrier.harmonic(order).to_string(), text);
        }
    }

    proptest! {
        #[test]
        fn printing_then_reading_gives_the_same(hertz in 0u64..20_000_000_000) {
            let frequency = Hertz::new(hertz as f64);
            prop_assert!((frequency.to_string().parse::<Hertz>().unwrap() - frequency).get().abs() < 1e-3);
        }

        #[test]
        fn reading_never_panics(text in "\\PC{0,20}") {
            drop(text.parse::<Hertz>());
            drop(text.parse::<Seconds>());
        }

        #[test]
        fn a_plus_b_minus_a_is_b(a in -1e10..1e10f64, b in -1e10..1e10f64) {
            let (a, b) = (Hertz::new(a), Hertz::new(b));
            prop_assert!(((a + (b - a)) - b).get().abs() < 1e-5);
        }
    }
}
