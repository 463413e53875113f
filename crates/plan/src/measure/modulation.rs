//! The modulation: how the unit is set up for it, and what is measured of it.

use spurline_document::Span;
use spurline_units::{Db, Hertz, Volts};

use crate::model::Modulation;

/// What is measured of the modulation, and between what it must lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModulationMeasure {
    /// What.
    pub fact: ModulationFact,
    /// The least, in hertz or as a share.
    pub at_least: Option<f64>,
    /// The most, in hertz or as a share.
    pub at_most: Option<f64>,
}

/// What can be measured of a modulation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ModulationFact {
    /// The peak deviation of a tone in frequency.
    Deviation,
    /// The depth of a tone in amplitude.
    Depth,
}

/// A tone at the unit's microphone input, whose level is searched for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetUp {
    /// The tone that the carrier is measured with.
    pub tone: Hertz,
    /// What it must make of the carrier.
    pub aim: SetUpAim,
    /// The tone with which the level for half of the deviation is found; that of the measurement if it is not stated.
    pub maximum_response: Option<Hertz>,
    /// The level that is tried first, r.m.s.
    pub start: Volts,
    /// The most that the microphone input is given, r.m.s.
    pub most: Volts,
    /// How near the search must come, as a share of what it aims at.
    pub within: f64,
    /// Where it stands in the plan.
    pub span: Span,
}

/// What a set-up aims at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SetUpAim {
    /// A level so far above the one that makes half of the rated deviation: for a unit with a limiter
    /// (47 CFR 2.1049(c)(1)).
    AboveHalf {
        /// The rated deviation.
        rated: Hertz,
        /// How far above.
        above: Db,
    },
    /// At least a share of the rated deviation: for a unit without a limiter (47 CFR 2.1049(c)(1)).
    Share {
        /// The rated deviation.
        rated: Hertz,
        /// The share.
        share: f64,
    },
    /// A depth of amplitude modulation.
    Depth {
        /// From 0 to 1.
        depth: f64,
    },
}

/// A measured deviation or depth within this share of what the plan declares agrees with it.
pub const MODULATION_AGREES: f64 = 0.1;

impl SetUp {
    /// What the carrier is expected to carry after it.
    #[must_use]
    pub fn expected(&self) -> Modulation {
        let tone = self.tone;
        match self.aim {
            // The limiter holds it at what it is rated for.
            SetUpAim::AboveHalf { rated, .. } => Modulation::Tone { deviation: rated, tone },
            SetUpAim::Share { rated, share } => Modulation::Tone { deviation: rated * share, tone },
            SetUpAim::Depth { depth } => Modulation::Am { depth, tone },
        }
    }

    /// The tone with which the level is searched for.
    #[must_use]
    pub fn searched_with(&self) -> Hertz {
        match self.aim {
            SetUpAim::AboveHalf { .. } => self.maximum_response.unwrap_or(self.tone),
            SetUpAim::Share { .. } | SetUpAim::Depth { .. } => self.tone,
        }
    }

    /// What the search looks for, in hertz or as a share, and between what it has found it.
    #[must_use]
    pub fn target(&self) -> (f64, [f64; 2]) {
        let around = |target: f64| (target, [target * (1.0 - self.within), target * (1.0 + self.within)]);
        match self.aim {
            SetUpAim::AboveHalf { rated, .. } => around(rated.get() / 2.0),
            // At least so much: it is aimed at from above.
            SetUpAim::Share { rated, share } => {
                let least = rated.get() * share;
                (least * (1.0 + self.within), [least, least * (1.0 + 2.0 * self.within)])
            }
            SetUpAim::Depth { depth } => around(depth),
        }
    }
}
