//! What can be measured, and the units of figures.

use serde::{Deserialize, Serialize};
use spurline_units::Hertz;

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident => $key:literal, $short:literal, $title:literal;)+) => {
        /// What is measured.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Quantity {
            $($(#[$doc])* #[serde(rename = $key)] $name,)+
        }

        impl Quantity {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// Its name in JSON and CSV.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$name => $key,)+
                }
            }

            /// A short word or two for narrow tables.
            #[must_use]
            pub const fn short(self) -> &'static str {
                match self {
                    $(Self::$name => $short,)+
                }
            }

            /// Its name for people.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self {
                    $(Self::$name => $title,)+
                }
            }
        }
    };
}

quantities! {
    /// Mean power of the carrier.
    CarrierPower => "carrier_power", "carrier", "Carrier power";
    /// Level of a harmonic.
    Harmonic => "harmonic", "harmonic", "Harmonic";
    /// How far and how deep a search went.
    Search => "search", "search", "Search for spurious emissions";
    /// Level of an emission that a search found.
    Spurious => "spurious", "spurious", "Spurious emission";
    /// Width that holds a share of the power.
    OccupiedBandwidth => "occupied_bandwidth", "OBW", "Occupied bandwidth";
    /// Width at so many decibels below a reference.
    XdbBandwidth => "x_db_bandwidth", "x-dB width", "x-dB bandwidth";
    /// The emission against a limit that goes by the offset from the carrier: its worst place.
    EmissionMask => "emission_mask", "mask", "Emission mask";
    /// Power in an adjacent channel.
    AdjacentChannelPower => "adjacent_channel_power", "adj. ch.", "Adjacent channel power";
    /// Power within the channel.
    ChannelPower => "channel_power", "channel", "Channel power";
    /// How far the carrier lies from its nominal frequency.
    FrequencyError => "frequency_error", "freq. error", "Carrier frequency error";
    /// The occupied emission within a band.
    Band => "band", "band", "Emission within its band";
    /// Peak deviation of frequency modulation.
    Deviation => "deviation", "deviation", "Frequency deviation";
    /// Depth of amplitude modulation.
    ModulationDepth => "modulation_depth", "AM depth", "Depth of amplitude modulation";
    /// What is emitted where the unit must not transmit.
    Silence => "silence", "silence", "Silence";
    /// What is emitted while the unit is not keyed.
    Standby => "standby", "standby", "Standby emission";
    /// The carrier's power along a key-down.
    PowerOverTime => "power_over_time", "over time", "Carrier power over time";
    /// The carrier's power along the supply voltage.
    PowerOverSupply => "power_over_supply", "over supply", "Carrier power over supply voltage";
}

/// The unit of a figure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Unit {
    /// Watts.
    W,
    /// Level over one milliwatt.
    #[serde(rename = "dBm")]
    Dbm,
    /// Decibels.
    #[default]
    #[serde(rename = "dB")]
    Db,
    /// Hertz.
    Hz,
    /// Per cent.
    #[serde(rename = "%")]
    Percent,
    /// Volts.
    V,
    /// Amperes.
    A,
    /// Seconds.
    #[serde(rename = "s")]
    S,
}

impl Unit {
    /// How it is written.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::W => "W",
            Self::Dbm => "dBm",
            Self::Db => "dB",
            Self::Hz => "Hz",
            Self::Percent => "%",
            Self::V => "V",
            Self::A => "A",
            Self::S => "s",
        }
    }

    /// A figure of this unit for people, to so many decimals; hertz with the prefix that suits them, whole.
    #[must_use]
    pub fn show(self, value: f64, decimals: usize) -> String {
        match self {
            Self::Hz if value.is_finite() => Hertz::new(value.round()).to_string(),
            other => format!("{value:.decimals$} {}", other.symbol()),
        }
    }

    /// The unit of a difference of two figures of this unit.
    #[must_use]
    pub const fn of_difference(self) -> Self {
        match self {
            Self::W | Self::Dbm => Self::Db,
            other => other,
        }
    }
}
