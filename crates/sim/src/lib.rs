//! The simulated bench: physics, SCPI instruments, faults.
//!
//! It listens on real sockets and answers in SCPI; whoever drives it learns nothing that a real bench would not
//! tell. It has physics of its own and shares no physics with what measures it, so that errors cannot cancel.
//!
//! It knows the language of instruments and the physics of a transmitter, a path and their meters. It knows no
//! plan, no limit and no verdict.
//!
//! # Why the instruments read with `spurline-scpi` and not with the crate `scpi`
//!
//! `scpi` 1.0.1 (MIT or Apache-2.0) is a sound parser for the instrument's side, made for small machines. It does not
//! fit here. Its `Node::run` carries a whole message out in one call and, as its own documentation says, knows no
//! overlapped commands: `*OPC?` could not wait for a sweep while other connections go on. It stops at the first error,
//! whereas a refused setting here leaves the rest of the message standing. Its numbers with units are 32-bit floats,
//! which at 432 MHz have steps of 32 Hz. A numbered header needs a node for each number, and it writes answers but does
//! not read them, so that the client would need a second lexer that may disagree with the first. Status registers would
//! be ours in either case. What it offers beyond that, lists of numbers and modules, no instrument here has.
//! Its table of header paths is an outside check of ours, in `spurline-scpi`.
//!
//! # Where the status registers differ from SCPI-1999
//!
//! Bit 3 of `STATus:QUEStionable:CONDition?` sums up the *condition* of `STATus:QUEStionable:POWer` under its enable
//! mask. SCPI-1999 has the *event* register there, which stays set until it is read: `STATus:QUEStionable:CONDition?`
//! would go on to tell of an overload that has gone, and a client that polls it alone would never see the end.

mod bench;
mod calibrate;
mod draw;
mod drawn;
mod instruments;
mod observed;
mod physics;
mod role;
mod server;
mod world;

pub use bench::{SimulatedBench, UnitLabel};
pub use calibrate::{CalibrationTable, calibrate, true_loss};
pub use observed::Observations;
pub use role::Role;
pub use server::{KeyLinePlace, Place, ServeError, Served, Speaker, Thumb, Wiring, serve};
pub use world::{Connected, End, Section};
