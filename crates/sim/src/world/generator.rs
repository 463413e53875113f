//! The signal generator at the connector: its line and its harmonics through what lies before the path.

use num_complex::Complex64;
use spurline_units::{Db, Dbm, Hertz};

use super::part::Part;
use crate::bench::GeneratorTruth;
use crate::draw::Seed;
use crate::physics::detector::Line;
use crate::physics::reflection::Reflection;

/// What is connected where the unit's connector is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Connected {
    /// The unit.
    #[default]
    Unit,
    /// The signal generator in the unit's place.
    Generator,
    /// Both, through one combiner.
    Both,
}

/// The line that a generator is told to give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tone {
    pub(crate) frequency: Hertz,
    pub(crate) level: Dbm,
}

/// A generator with its errors drawn.
#[derive(Debug)]
pub(crate) struct Generator {
    level_error: Db,
    harmonics: Vec<(u32, Db)>,
    output: Reflection,
    pub(crate) through: Vec<Part>,
    pub(crate) unit_loss: Db,
}

impl Generator {
    pub(crate) fn new(truth: &GeneratorTruth, seed: Seed) -> Self {
        let drawn = truth.level_spread * seed.normal("generator level");
        Self {
            level_error: truth.level_error.unwrap_or(drawn),
            harmonics: truth.harmonics.clone(),
            output: Reflection::draw(seed, "generator output", truth.vswr),
            through: truth.through.iter().map(|part| Part::build(seed, part)).collect(),
            unit_loss: truth.unit_loss,
        }
    }

    /// The lines at its output into a matched load.
    pub(crate) fn lines(&self, tone: Tone) -> impl Iterator<Item = Line> + '_ {
        let level = tone.level + self.level_error;
        let orders = std::iter::once((1, Db::new(0.0))).chain(self.harmonics.iter().copied());
        orders.map(move |(order, below)| Line {
            frequency: tone.frequency.harmonic(order),
            power: (level - below).to_watts(),
        })
    }

    /// The match of its output.
    pub(crate) fn source(&self, frequency: Hertz) -> Complex64 {
        self.output.at(frequency)
    }
}
