//! The truth test: random units on random benches, whose truth is known, against what the program says of them.
//!
//! [`Case::draw`] draws a bench and a unit and writes them as the files that a user would write; [`run`](run::run) runs
//! them as the program does, over real sockets and the instruments' own language, in virtual time; [`Tally`] holds what
//! came out against the truth. Only the drawing and the tally know it: the simulated instruments are told through their
//! file, and the measurement hears only what they answer.
//!
//! The true level of an emission is what the unit gives into a matched load at its connector. What the path's input
//! reflects is mismatch, and belongs to the uncertainty.

mod case;
pub mod phases;
mod run;
mod tally;
mod texts;

pub use case::{Case, Emission};
pub use run::{Ran, run};
pub use tally::{Share, Tally};
