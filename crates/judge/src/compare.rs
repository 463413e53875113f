//! Two measurements of one thing held against each other: whether it shifted, by how much, and what shift would have
//! been seen.
//!
//! Everything here is in one unit that the caller knows, decibels as a rule. What both measurements share (the path's
//! table, the analyser's level) cancels in a difference, so that only what repeats differently enters:
//! [`Random`] components, each with the degrees of freedom behind it, combined by [`Random::combined`] into a
//! [`Shift`].

mod detect;
mod holm;
mod pooled;
mod ratio;
mod robust;
mod shift;
mod welch;

pub use detect::{detectable, power_of};
pub use holm::holm;
pub use pooled::{Pooled, chi_square_quantile, pooled, range_divisor};
pub use ratio::en;
pub use robust::{Robust, robust};
pub use shift::{Random, Shift};
pub use welch::{Sample, Welch, welch};
