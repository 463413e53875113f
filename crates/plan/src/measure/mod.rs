//! What may be measured beside carrier and harmonics, as a plan says it.

mod search;

pub use search::Search;
