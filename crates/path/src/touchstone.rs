//! Touchstone version 1 files of two-ports: text to scattering parameters, checked to be those of a passive path.
//!
//! The format: Touchstone File Format Specification, version 1.1, EIA/IBIS Open Forum.

mod error;
mod options;
mod parse;

use spurline_units::{Db, Hertz, Range};

pub use error::TouchstoneError;

use crate::curve::Curve;
use crate::mismatch::Reflection;
use crate::two_port::TwoPort;

/// The scattering parameters of a passive two-port against frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Touchstone {
    points: Vec<(Hertz, TwoPort)>,
    loss: Curve,
    input: Curve,
    output: Curve,
}

impl Touchstone {
    /// Reads the text of a file.
    ///
    /// # Errors
    ///
    /// If the text is not a version 1 two-port file in a 50 ohm system, or what it describes amplifies, is not
    /// reciprocal, or passes nothing.
    pub fn parse(text: &str) -> Result<Self, TouchstoneError> {
        let points = parse::parse(text)?;
        let curve = |value: fn(&TwoPort) -> f64| {
            Curve::new(points.iter().map(|(frequency, point)| (frequency.get(), value(point))).collect())
        };
        Ok(Self {
            // In dB and never as complex numbers: between points whose phase has turned, a straight line through
            // the complex plane cuts the corner and invents loss.
            loss: curve(|point| point.loss().expect("the parser refuses points that pass nothing").get()),
            input: curve(|point| point.s11.norm().min(1.0)),
            output: curve(|point| point.s22.norm().min(1.0)),
            points,
        })
    }

    /// The points as they stand in the file, frequencies ascending.
    #[must_use]
    pub fn points(&self) -> &[(Hertz, TwoPort)] {
        &self.points
    }

    /// The loss from port 1 to port 2, in dB along a straight line between points; `None` beyond them.
    #[must_use]
    pub fn loss_at(&self, frequency: Hertz) -> Option<Db> {
        self.loss.at(frequency.get()).map(Db::new)
    }

    /// The reflection at port 1, its magnitude along a straight line between points; `None` beyond them.
    #[must_use]
    pub fn input_at(&self, frequency: Hertz) -> Option<Reflection> {
        self.input.at(frequency.get()).and_then(Reflection::new)
    }

    /// The reflection at port 2, its magnitude along a straight line between points; `None` beyond them.
    #[must_use]
    pub fn output_at(&self, frequency: Hertz) -> Option<Reflection> {
        self.output.at(frequency.get()).and_then(Reflection::new)
    }

    /// From the first to the last frequency.
    #[must_use]
    pub fn covered(&self) -> Range<Hertz> {
        let (low, high) = self.loss.ends();
        Range::new(Hertz::new(low), Hertz::new(high)).expect("frequencies of a curve ascend")
    }
}

#[cfg(test)]
mod tests;
