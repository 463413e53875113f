//! What lies between the transmitter and an instrument: loss and its uncertainty at a frequency.
//!
//! A [`Path`] is a row of [`Part`]s from the transmitter on. Each has its [`Loss`], flat, as a table or from a
//! Touchstone file, with the uncertainty of its certificate and the place that each number came from. The path
//! answers for one frequency at a time, so that a harmonic is never corrected with the loss at the carrier, and
//! says nothing where a part says nothing.
//!
//! This room does no I/O: texts of files are handed in. It judges no reading and combines no uncertainties.
//!
//! ```
//! use spurline_path::{Loss, Part, Path, Stated};
//! use spurline_units::{Db, Hertz};
//! let pad = Part {
//!     name: "pad".to_owned(),
//!     loss: Stated::new(
//!         Loss::Flat { loss: Db::new(30.0), over: "9 kHz..3 GHz".parse().unwrap() },
//!         "`attenuator` in bench.yaml, line 4",
//!     ),
//!     uncertainty: Stated::new(Db::new(0.15), "`uncertainty` in bench.yaml, line 4"),
//!     rated: None,
//!     vswr: None,
//!     calibration: None,
//!     time_constant: None,
//!     distorts: None,
//! };
//! let path = Path { parts: vec![pad] };
//! assert_eq!(path.loss_at(Hertz::from_mhz(290.0)).unwrap().total, Db::new(30.0));
//! assert!(path.loss_at(Hertz::from_mhz(3300.0)).is_err());
//! ```

mod calibration;
mod cascade;
mod curve;
mod distortion;
mod interface;
mod measured;
mod mismatch;
mod part;
mod read;
mod table;
mod touchstone;
mod two_port;

pub use calibration::{Calibration, read_date};
pub use cascade::{PartLoss, PartPower, Path, PathError, PathLoss};
pub use distortion::{Distorted, Distortion, Intercepts};
pub use interface::{Interface, Termination};
pub use measured::{Measured, MeasuredPoint, MeasuredTable};
pub use mismatch::{Mismatch, Reflection};
pub use part::{Ends, Loss, Part, Stated};
pub use table::{LossTable, TableError};
pub use touchstone::{Touchstone, TouchstoneError};
pub use two_port::TwoPort;
