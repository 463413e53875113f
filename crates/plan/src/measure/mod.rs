//! What a plan may ask for beside carrier and harmonics, a file for each kind.

mod spectrum;

pub use spectrum::{AdjacentAsked, MaskAsked, OccupiedAsked, Spectrum, Tolerance, XdbAsked};
