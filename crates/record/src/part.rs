//! The pieces of a plan whose readings are kept together.

use serde::{Deserialize, Serialize};
use spurline_units::Hertz;

/// A piece of a plan: all its readings are kept at once, or none, so that a run that broke off goes on between two.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// One channel and power setting with one supply.
    State {
        /// The supply's name, if the plan names supplies.
        supply: Option<String>,
        /// The channel's name.
        channel: String,
        /// The power setting's name.
        power_setting: String,
    },
    /// The carrier along the voltage of a supply.
    SupplySeries,
    /// Silence at one frequency.
    Silence {
        /// Where the unit is told to transmit.
        frequency: Hertz,
    },
    /// Emission in standby.
    Standby,
}
