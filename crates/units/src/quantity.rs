//! What quantities share: one finite value in one base unit, read and printed by one notation.

/// What every quantity of one finite number has: making, reading, printing and comparing it.
macro_rules! scalar {
    ($name:ident, $notation:ident, $base:literal) => {
        impl $name {
            #[doc = concat!("Makes the quantity from a finite value in ", $base, ".")]
            ///
            /// # Panics
            ///
            /// If the value is not finite: a measured value is checked before it becomes a quantity.
            #[must_use]
            pub const fn new(value: f64) -> Self {
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

        impl std::str::FromStr for $name {
            type Err = $crate::QuantityError;

            fn from_str(text: &str) -> Result<Self, $crate::QuantityError> {
                $notation.parse(text).map(Self)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                $notation.format(self.0, f)
            }
        }
    };
}
pub(crate) use scalar;

/// A quantity for which zero is a sensible start.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $notation:ident, $base:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        $crate::quantity::scalar!($name, $notation, $base);
    };
}
pub(crate) use quantity;

/// A quantity of which two make a sum and which a plain number scales.
macro_rules! additive {
    ($name:ident) => {
        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::new(self.get() + other.get())
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::new(self.get() - other.get())
            }
        }

        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self::new(self.get() * factor)
            }
        }

        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self::new(self.get() / divisor)
            }
        }

        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.get() / other.get()
            }
        }
    };
}
pub(crate) use additive;
