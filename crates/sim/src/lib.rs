//! The simulated bench: physics, SCPI instruments, faults.
//!
//! It listens on real sockets and answers in SCPI; whoever drives it learns nothing that a real bench would not
//! tell. It has physics of its own and shares no physics with what measures it, so that errors cannot cancel.
//!
//! It knows the language of instruments and the physics of a transmitter, a path and their meters. It knows no
//! plan, no limit and no verdict.

mod bench;
mod calibrate;
mod draw;
mod instruments;
mod observed;
mod physics;
mod role;
mod server;
mod world;

pub use bench::{SimulatedBench, UnitLabel};
pub use calibrate::{CalibrationTable, calibrate};
pub use observed::Observations;
pub use role::Role;
pub use server::{Place, ServeError, Served, Wiring, serve};
