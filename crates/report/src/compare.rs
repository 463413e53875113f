//! Two runs of one plan held against each other: what really changed, and what would have been seen.
//!
//! What both runs share cancels in a difference: table and level of the same bench. What is left repeats or does not:
//! the scatter of the sweeps, the joints that were made anew, the day. [`Comparison::of`] pairs the readings, says for
//! each pair whether it shifted, and keeps the risk of one false alarm over all of them together.

mod basis;
mod change;
mod comparison;
mod html;
mod json;
pub(crate) mod pair;
pub(crate) mod repeat;
mod shifts;
mod terms;
mod words;

pub use change::{Basis, Change, Said, Side};
pub use comparison::{Comparison, NotComparable, Verdict};
pub use html::comparison_html;
pub use json::comparison_json;
pub use pair::Single;
pub use repeat::needs_sweeps;
pub use terms::Terms;

#[cfg(test)]
pub(crate) use change::tests;
