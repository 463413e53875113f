//! What is asked of a rule: one carrier, its power, and perhaps the frequency of an emission.

use spurline_units::{Hertz, Watts};
use thiserror::Error;

/// A carrier that emissions are judged beside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    carrier: Hertz,
    power: Watts,
    at: Option<Hertz>,
}

/// Why a question has no sense.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum QuestionError {
    /// A carrier at or below zero.
    #[error("expected a carrier above 0 Hz, found `{0}`")]
    Carrier(Hertz),
    /// A power that has no level.
    #[error("expected a mean power above 0 W, found `{0}`")]
    Power(Watts),
}

impl Question {
    /// Asks about a carrier by its mean power at the antenna connector.
    ///
    /// # Errors
    ///
    /// If the carrier or the power is not above zero.
    pub fn new(carrier: Hertz, power: Watts) -> Result<Self, QuestionError> {
        if carrier.get() <= 0.0 {
            return Err(QuestionError::Carrier(carrier));
        }
        if power.get() <= 0.0 {
            return Err(QuestionError::Power(power));
        }
        Ok(Self { carrier, power, at: None })
    }

    /// The same about the emission at this frequency.
    #[must_use]
    pub const fn at(self, emission: Hertz) -> Self {
        Self { at: Some(emission), ..self }
    }

    /// The same about no emission in particular.
    pub(crate) const fn of_any_emission(self) -> Self {
        Self { at: None, ..self }
    }

    /// The same at another mean power.
    ///
    /// # Errors
    ///
    /// If the power is not above zero.
    pub fn with_power(self, power: Watts) -> Result<Self, QuestionError> {
        Self::new(self.carrier, power).map(|question| Self { at: self.at, ..question })
    }

    /// The carrier frequency.
    #[must_use]
    pub const fn carrier(&self) -> Hertz {
        self.carrier
    }

    /// The mean power.
    #[must_use]
    pub const fn power(&self) -> Watts {
        self.power
    }

    /// The frequency of the emission, where it is known.
    #[must_use]
    pub const fn emission(&self) -> Option<Hertz> {
        self.at
    }

    /// How far an emission lies from the carrier, to the millihertz: a difference of large numbers must not cross a
    /// boundary by its rounding.
    pub(crate) fn offset_of(&self, emission: Hertz) -> Hertz {
        const FINEST: f64 = 1e3;
        Hertz::new(((emission - self.carrier).get().abs() * FINEST).round() / FINEST)
    }
}
