//! One part of a path, and where each of its numbers came from.

use spurline_units::{Db, Hertz, Range, Seconds, Watts};

use crate::calibration::Calibration;
use crate::distortion::Distortion;
use crate::mismatch::Reflection;
use crate::table::LossTable;
use crate::touchstone::Touchstone;

/// A value with the file and key that state it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stated<T> {
    /// The value.
    pub value: T,
    /// Where it was read, for example `` `uncertainty` in bench.yaml, line 4 ``.
    pub source: String,
}

impl<T> Stated<T> {
    /// A value and its source.
    pub fn new(value: T, source: impl Into<String>) -> Self {
        Self { value, source: source.into() }
    }
}

/// How the loss of a part is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Loss {
    /// One loss over a range.
    Flat {
        /// The loss, not below zero.
        loss: Db,
        /// Where it holds.
        over: Range<Hertz>,
    },
    /// A table.
    Table(LossTable),
    /// Scattering parameters, port 1 towards the transmitter.
    TwoPort(Touchstone),
}

impl Loss {
    /// The loss at a frequency; `None` where it is not known.
    #[must_use]
    pub fn at(&self, frequency: Hertz) -> Option<Db> {
        match self {
            Self::Flat { loss, over } => over.contains(frequency).then_some(*loss),
            Self::Table(table) => table.at(frequency),
            Self::TwoPort(two_port) => two_port.loss_at(frequency),
        }
    }

    /// Where the loss is known.
    #[must_use]
    pub fn covered(&self) -> Range<Hertz> {
        match self {
            Self::Flat { over, .. } => *over,
            Self::Table(table) => table.covered(),
            Self::TwoPort(two_port) => two_port.covered(),
        }
    }
}

/// An attenuator, a cable, a splitter branch, a filter: one thing between two connectors.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What people call it.
    pub name: String,
    /// Its loss.
    pub loss: Stated<Loss>,
    /// The uncertainty of its loss, expanded for k = 2, as on a certificate; the largest, where its table states one for
    /// each frequency.
    pub uncertainty: Stated<Db>,
    /// The power that it may be given without end.
    pub rated: Option<Watts>,
    /// How long its body takes to come to 63 % of the rise in temperature that a power leads to, if that is stated.
    pub time_constant: Option<Seconds>,
    /// The reflection of either port from a stated VSWR. Where there is one it holds, for it is a bound and
    /// measured reflections are not.
    pub vswr: Option<Stated<Reflection>>,
    /// When it was calibrated, if that is stated.
    pub calibration: Option<Calibration>,
    /// What it makes of a carrier by itself, if it is said to make something.
    pub distorts: Option<Stated<Distortion>>,
}

/// The reflections of the two ends of a part or a path, where they are known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ends {
    /// At the port that faces the transmitter.
    pub input: Option<Stated<Reflection>>,
    /// At the port that faces the instrument.
    pub output: Option<Stated<Reflection>>,
}

impl Part {
    /// The uncertainty of its loss at a frequency, expanded for k = 2.
    #[must_use]
    pub fn uncertainty_at(&self, frequency: Hertz) -> Db {
        let own = match &self.loss.value {
            Loss::Table(table) => table.uncertainty_at(frequency),
            Loss::Flat { .. } | Loss::TwoPort(_) => None,
        };
        own.unwrap_or(self.uncertainty.value)
    }

    /// The reflections of its two ports at a frequency.
    #[must_use]
    pub fn reflections_at(&self, frequency: Hertz) -> Ends {
        match (&self.vswr, &self.loss.value) {
            (Some(stated), _) => Ends { input: Some(stated.clone()), output: Some(stated.clone()) },
            (None, Loss::TwoPort(file)) => {
                let stated = |parameter: &str, reflection: Option<Reflection>| {
                    reflection.map(|value| Stated::new(value, format!("{parameter} of {}", self.loss.source)))
                };
                Ends {
                    input: stated("S11", file.input_at(frequency)),
                    output: stated("S22", file.output_at(frequency)),
                }
            }
            (None, Loss::Flat { .. } | Loss::Table(_)) => Ends::default(),
        }
    }
}
