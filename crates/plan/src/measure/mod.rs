//! What a plan may ask for beside the carrier and its harmonics, one kind a file.

mod modulation;
mod search;
mod spectrum;

pub use modulation::{MODULATION_AGREES, ModulationFact, ModulationMeasure, SetUp, SetUpAim};
pub use search::Search;
pub use spectrum::{
    AdjacentAsked, BandAsked, MaskAsked, OccupiedAsked, Spectrum, TableAsked, Tolerance, XdbAsked,
};
