//! The truth test: units and benches with known truth are drawn, measured by the real procedures over the real wire,
//! and every outcome is held against what was drawn.
//!
//! [`Subject`] is one unit on one bench. Its texts say what a real plan, bench and profile would say; what is true
//! stands under `simulated` alone, and only the simulator reads it. The true level of a line is what the unit gives
//! into a matched load at its connector: what unit and path make of each other's reflections is an error of the
//! measurement, and is in its budget.

pub mod cases;
mod crowd;
mod draws;
mod families;
mod held;
mod instruments;
mod page;
mod parts;
mod rule;
mod run;
mod shelf;
mod stated;
mod subject;
mod summary;
mod texts;
mod unit;

pub use crowd::{Crowd, Member};
pub use families::Family;
pub use held::{Found, Held, Wrong};
pub use page::page;
pub use run::{Broke, Ran, measured};
pub use subject::Subject;
pub use summary::{Coverage, Outcomes, Share, Stratum, Summary, Target, Told, Undecided};
pub use texts::Texts;
