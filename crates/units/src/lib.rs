//! Physical quantities: parse, print, and only sums that mean something.
//!
//! A level in dBm is not a ratio in dB, and neither is a power in watts: each is its own type, and only the
//! arithmetic that makes physical sense compiles. There is no `Dbm + Dbm`; powers add in [`Watts`].
//!
//! A quantity is written as a decimal number and a unit: `145.5 MHz`, `-16 dBm`, `4..6 W` for a range. Nothing is
//! guessed: a text that is not quite right is refused, and the second line of the message says what to write.
//!
//! This room knows no files, no instruments and no limits.
//!
//! ```
//! use spurline_units::{Db, Dbm, Watts};
//! let carrier: Watts = "5 W".parse().unwrap();
//! let at_the_analyser: Dbm = carrier.to_dbm() - Db::new(40.0);
//! assert_eq!(at_the_analyser.to_string(), "-3.01 dBm");
//! ```

#[cfg(doctest)]
mod compile_fail;
mod electrical;
mod error;
mod frequency;
mod geometry;
mod level;
mod notation;
mod number;
mod power;
mod quantity;
mod range;
mod share;
mod spelling;
mod temperature;
mod time;
mod unit_hint;
mod vswr;

pub use electrical::{Amperes, Ohms, Volts};
pub use error::QuantityError;
pub use frequency::Hertz;
pub use geometry::{Angle, Length};
pub use level::{Db, Dbm};
pub use power::{Power, Watts};
pub use range::{Range, RangeError};
pub use share::Ratio;
pub use temperature::Celsius;
pub use time::Seconds;
pub use vswr::{Vswr, VswrError};
