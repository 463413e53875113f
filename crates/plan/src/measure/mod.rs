//! What a plan may ask for beside the carrier and its harmonics, one kind a file.

mod modulation;
mod search;

pub use modulation::{MODULATION_AGREES, ModulationFact, ModulationMeasure, SetUp, SetUpAim};
pub use search::Search;
