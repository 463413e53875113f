//! What a plan may ask for beside the carrier and its harmonics, one kind a file.

mod ceiling;
mod modulation;
mod over_time;
mod search;
mod silence;
mod spectrum;
mod standby;
mod supply_series;

pub use ceiling::Ceiling;
pub use modulation::{MODULATION_AGREES, ModulationFact, ModulationMeasure, SetUp, SetUpAim};
pub use over_time::OverTime;
pub use search::Search;
pub(crate) use silence::places;
pub use silence::{Silence, SilenceApproach};
pub use spectrum::{
    AdjacentAsked, BandAsked, MaskAsked, OccupiedAsked, Spectrum, TableAsked, Tolerance, XdbAsked,
};
pub use standby::{Standby, StandbyApproach};
pub use supply_series::{DRAWN_TIME, SeriesPoint, SupplySeries};
