//! Which part of a stated variance comes from where, so that a budget that is too wide can be told by its causes.

use serde::Serialize;
use spurline_record::Budget;

/// Contributions of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Reflection of the unit against each part and the instrument.
    UnitMismatch,
    /// Reflections of parts and instrument against each other.
    PathMismatch,
    /// Calibration of the parts.
    PathCalibration,
    /// What the analyser itself makes.
    OwnProduct,
    /// The scatter of the sweeps.
    Repeatability,
    /// The power meter, whose carrier a limit moves with.
    Meter,
    /// The figures of the analyser's specification.
    Instrument,
}

impl Family {
    fn of(name: &str) -> Self {
        match name {
            _ if name.starts_with("mismatch: unit") => Self::UnitMismatch,
            _ if name.starts_with("mismatch") => Self::PathMismatch,
            _ if name.starts_with("path") => Self::PathCalibration,
            _ if name.contains("own product") => Self::OwnProduct,
            _ if name.starts_with("repeatability") => Self::Repeatability,
            _ if name.starts_with("power meter") => Self::Meter,
            _ => Self::Instrument,
        }
    }

    /// What people call it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::UnitMismatch => "mismatch with the unit",
            Self::PathMismatch => "mismatch in the path",
            Self::PathCalibration => "calibration of the path",
            Self::OwnProduct => "own product",
            Self::Repeatability => "repeatability",
            Self::Meter => "power meter",
            Self::Instrument => "analyser",
        }
    }
}

/// The variance of each family in a budget, dB squared.
pub(super) fn shares(budget: &Budget) -> Vec<(Family, f64)> {
    let mut shares: Vec<(Family, f64)> = Vec::new();
    for line in &budget.lines {
        let family = Family::of(&line.name);
        let variance = line.standard.powi(2);
        match shares.iter_mut().find(|(known, _)| *known == family) {
            Some((_, sum)) => *sum += variance,
            None => shares.push((family, variance)),
        }
    }
    shares
}
