//! Physical quantities: parse, print, and only sums that mean something.
//!
//! A level in dBm is not a ratio in dB, and neither is a power in watts: each is its own type, and only the
//! arithmetic that makes physical sense compiles. There is no `Dbm + Dbm`; powers add in [`Watts`].
//!
//! This room knows no files, no instruments and no limits.
//!
//! ```
//! use spurline_units::{Db, Dbm, Watts};
//! let carrier: Watts = "5 W".parse().unwrap();
//! let at_the_analyser: Dbm = carrier.to_dbm() - Db::new(40.0);
//! assert_eq!(at_the_analyser.to_string(), "-3.01 dBm");
//! ```
//!
//! Adding two levels in dBm means nothing:
//!
//! ```compile_fail
//! let sum = spurline_units::Dbm::new(3.0) + spurline_units::Dbm::new(3.0);
//! ```

mod level;
mod power;
mod quantity;
mod range;
mod text;
mod vswr;

pub use level::{Db, Dbm};
pub use power::{Power, Watts};
pub use quantity::{Amperes, Hertz, Ratio, Seconds, Volts};
pub use range::{Range, RangeError};
pub use text::QuantityError;
pub use vswr::{Vswr, VswrError};
