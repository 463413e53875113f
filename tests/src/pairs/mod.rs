//! The test of comparisons: a unit is measured by the real procedures over the real wire, its bench is set up anew, one of
//! its harmonics is shifted, and it is measured again; what a comparison says is held against what was shifted.
//!
//! What is true stands in [`Pair`], from which the texts are written; nothing of it comes through the program.

mod count;
mod drawn;
mod run;

pub use count::{Count, Share, counted, page, upper_bound};
pub use drawn::{Pair, Shifted};
pub use run::{Measured, measured};
