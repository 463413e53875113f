//! The test of the search: units with planted spurious lines on benches with lines of others, searched by the real
//! procedures over the real wire, and what was found held against what was planted.
//!
//! What is true stands in [`Planted`], from which the texts are written; nothing of it comes through the program.

mod count;
mod drawn;
mod run;

pub use count::{Count, counted, page};
pub use drawn::{Kind, Line, Planted};
pub use run::{Searched, job, searched};
