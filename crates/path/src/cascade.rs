//! A path: parts in a row, its loss at a frequency, and the power that each part takes.

use spurline_units::{Db, Hertz, Range, Watts};
use thiserror::Error;

use crate::part::{Ends, Part};

/// Parts in a row, from the transmitter to the instrument. Without parts the two are connected directly.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// The parts, the one at the transmitter first.
    pub parts: Vec<Part>,
}

/// The loss of a path at one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct PathLoss {
    /// The sum over all parts.
    pub total: Db,
    /// What each part has to do with it, in the order of the path.
    pub parts: Vec<PartLoss>,
}

/// The loss of one part at one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct PartLoss {
    /// The name of the part.
    pub name: String,
    /// Its loss.
    pub loss: Db,
    /// The uncertainty of that loss, expanded for k = 2.
    pub uncertainty: Db,
    /// The file and key that state the uncertainty.
    pub source: String,
}

/// The power at one part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartPower {
    /// The name of the part.
    pub name: String,
    /// What arrives at it.
    pub incident: Watts,
    /// What arrives and does not go on. It is taken to become heat, though a splitter or a reflection sends some
    /// of it elsewhere.
    pub dissipated: Watts,
    /// What it may be given without end, where that is known.
    pub rated: Option<Watts>,
}

impl PartPower {
    /// Whether more arrives than the part is rated for; a part without a rating is never overrated.
    #[must_use]
    pub fn is_overrated(&self) -> bool {
        self.rated.is_some_and(|rated| self.incident > rated)
    }
}

/// Why a path says nothing at a frequency. The second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PathError {
    /// A part has no loss there.
    #[error(
        "the loss of `{part}` is not known at {frequency}, only over {covered}\nnothing is extrapolated: measure the part there, or leave the frequency out"
    )]
    Beyond {
        /// The name of the part.
        part: String,
        /// What was asked for.
        frequency: Hertz,
        /// What the part covers.
        covered: Range<Hertz>,
    },
}

impl Path {
    /// The loss at a frequency.
    ///
    /// # Errors
    ///
    /// If a part does not cover the frequency; the first such part is named.
    pub fn loss_at(&self, frequency: Hertz) -> Result<PathLoss, PathError> {
        let parts =
            self.parts.iter().map(|part| part_loss(part, frequency)).collect::<Result<Vec<_>, _>>()?;
        let total = parts.iter().fold(Db::new(0.0), |sum, part| sum + part.loss);
        Ok(PathLoss { total, parts })
    }

    /// Where the whole path is known: what all parts have in common. `None` if that is nothing; a path without
    /// parts covers everything.
    #[must_use]
    pub fn covered(&self) -> Option<Range<Hertz>> {
        let everything = (Hertz::new(0.0), Hertz::new(f64::MAX));
        let (low, high) = self
            .parts
            .iter()
            .map(|part| part.loss.value.covered())
            .fold(everything, |(low, high), covered| (low.max(covered.low()), high.min(covered.high())));
        Range::new(low, high)
    }

    /// The power at every part when the transmitter puts `power` into the path at a frequency.
    ///
    /// # Errors
    ///
    /// If a part does not cover the frequency.
    pub fn power_into_each(&self, power: Watts, frequency: Hertz) -> Result<Vec<PartPower>, PathError> {
        let mut incident = power;
        let mut powers = Vec::with_capacity(self.parts.len());
        for part in &self.parts {
            let passed = incident / part_loss(part, frequency)?.loss.power_ratio();
            let dissipated = (incident - passed).max(Watts::new(0.0));
            powers.push(PartPower { name: part.name.clone(), incident, dissipated, rated: part.rated });
            incident = passed;
        }
        Ok(powers)
    }

    /// The reflections of the first port of the first part and the last port of the last, where they are known;
    /// what shines through from parts further in is not in them.
    ///
    /// # Errors
    ///
    /// If the first or the last part does not cover the frequency.
    pub fn reflection_at(&self, frequency: Hertz) -> Result<Ends, PathError> {
        let ends = |part: Option<&Part>| match part {
            Some(part) => part_loss(part, frequency).map(|_| part.reflections_at(frequency)),
            None => Ok(Ends::default()),
        };
        Ok(Ends { input: ends(self.parts.first())?.input, output: ends(self.parts.last())?.output })
    }
}

fn part_loss(part: &Part, frequency: Hertz) -> Result<PartLoss, PathError> {
    let Some(loss) = part.loss.value.at(frequency) else {
        let covered = part.loss.value.covered();
        return Err(PathError::Beyond { part: part.name.clone(), frequency, covered });
    };
    Ok(PartLoss {
        name: part.name.clone(),
        loss,
        uncertainty: part.uncertainty_at(frequency),
        source: part.uncertainty.source.clone(),
    })
}

#[cfg(test)]
mod tests;
