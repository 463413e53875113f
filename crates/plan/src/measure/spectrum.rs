//! What a plan asks of the carrier's own spectrum.

use spurline_limits::{Region, Use};
use spurline_units::{Db, Hertz, Range, Ratio};

/// What is asked; nothing of it unless the plan says so.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spectrum {
    /// The width that holds a share of the power.
    pub occupied: Option<OccupiedAsked>,
    /// The width so many decibels down.
    pub x_db: Option<XdbAsked>,
    /// The emission against a limit that goes by the offset.
    pub mask: Option<MaskAsked>,
    /// The power in the channels beside.
    pub adjacent: Option<AdjacentAsked>,
    /// The width of the channel whose power is read.
    pub channel: Option<Hertz>,
    /// How far the carrier may be from its channel.
    pub frequency: Option<Tolerance>,
    /// The band that the emission must stay in.
    pub band: Option<BandAsked>,
}

/// An occupied bandwidth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OccupiedAsked {
    /// The share of the power within it, 0 to 1.
    pub share: f64,
    /// The most that it may be; without it the fact `authorised_bandwidth` counts.
    pub at_most: Option<Hertz>,
}

/// A width so many decibels down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct XdbAsked {
    /// How far below the highest point.
    pub down: Db,
    /// The most that it may be.
    pub at_most: Option<Hertz>,
}

/// A mask.
#[derive(Clone, Debug, PartialEq)]
pub struct MaskAsked {
    /// The rule, if it is not that of the plan.
    pub rule: Option<String>,
    /// How far from the carrier it is looked at; without it 2.5 times the width that is expected.
    pub out_to: Option<Hertz>,
}

/// The channels beside.
#[derive(Clone, Debug, PartialEq)]
pub struct AdjacentAsked {
    /// From channel to channel.
    pub spacing: Hertz,
    /// The width that power is added up over, in the channel and beside it.
    pub width: Hertz,
    /// How far below the channel's power that beside it must lie; without it a rule says so.
    pub below: Option<Db>,
    /// That rule, if it is not that of the plan.
    pub rule: Option<String>,
}

/// How far a frequency may be off, either way.
#[derive(Clone, Debug, PartialEq)]
pub enum Tolerance {
    /// A share of the frequency.
    Share(Ratio),
    /// So many hertz.
    Hertz(Hertz),
    /// As much as a rule says, by its name.
    Rule(String),
}

/// The band that an emission must stay in.
#[derive(Clone, Debug, PartialEq)]
pub enum BandAsked {
    /// From and to.
    Range(Range<Hertz>),
    /// As a table says.
    Table(TableAsked),
}

/// What is asked of a table of bands.
#[derive(Clone, Debug, PartialEq)]
pub struct TableAsked {
    /// Its name.
    pub table: String,
    /// The region that the station is in, if that is told.
    pub region: Option<Region>,
    /// What it sends, if that is told.
    pub sent: Option<Use>,
}

impl Spectrum {
    /// Whether nothing is asked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl Tolerance {
    /// The same for a carrier, in hertz, where it is stated and not a rule's.
    #[must_use]
    pub fn at(&self, carrier: Hertz) -> Option<Hertz> {
        match self {
            Self::Share(share) => Some(carrier * share.get()),
            Self::Hertz(hertz) => Some(*hertz),
            Self::Rule(_) => None,
        }
    }
}
