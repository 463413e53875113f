//! What the unit emits at its connector while it is not keyed.

use spurline_document::Span;
use spurline_path::PathError;
use spurline_units::{Dbm, Hertz, Range, Seconds};

use super::Ceiling;
use super::silence::deep_looks;
use crate::job::Job;
use crate::settings::{Look, first_look};
use crate::way::Way;

/// Emission in standby, as a plan says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Standby {
    /// What is looked through.
    pub range: Range<Hertz>,
    /// Where that stands in the plan.
    pub span: Span,
    /// What is let pass.
    pub ceiling: Ceiling,
    /// The path, if it is not the bench's path `standby` or else that of the harmonics.
    pub path: Option<(String, Span)>,
}

/// How standby emission is looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct StandbyApproach {
    /// The looks, the lowest frequency first.
    pub looks: Vec<Look>,
    /// The highest that noise will show, at the connector, where the path loses most.
    pub floor: Dbm,
    /// The strictest of what is let pass; `None` where the rule has no number somewhere.
    pub ceiling: Option<Dbm>,
    /// Whether that floor lets the limit be shown to be kept.
    pub enough: bool,
    /// How long the looks take.
    pub time: Seconds,
}

/// The name of the path that is taken if there is one.
const USUAL_PATH: &str = "standby";
/// Nothing that is looked for in one sweep, and in all of them, is worth more time.
const PATIENCE: (Seconds, Seconds) = (Seconds::new(600.0), Seconds::new(3600.0));

impl Job {
    /// The way on which standby emission is looked for.
    #[must_use]
    pub fn standby_way(&self) -> &Way {
        let named = self.plan.measure.standby.as_ref().and_then(|standby| standby.path.as_ref());
        let name = named.map_or(USUAL_PATH, |(name, _)| name.as_str());
        self.bench.way(name).unwrap_or_else(|| self.harmonics_way())
    }

    /// The frequency and the power that a rule is asked with, which may want to know what else the unit does.
    #[must_use]
    pub fn standby_question(&self) -> Option<(Hertz, spurline_units::Power)> {
        let channel = self.plan.channels.first()?;
        Some((channel.carrier, channel.powers.first()?.window.high()))
    }

    /// How standby emission is looked for, if the plan wants it.
    ///
    /// # Errors
    ///
    /// If the path does not cover the range.
    pub fn standby_approach(&self) -> Result<Option<StandbyApproach>, PathError> {
        let (Some(standby), Some(question)) = (&self.plan.measure.standby, self.standby_question()) else {
            return Ok(None);
        };
        let way = self.standby_way();
        let allowed = self.allowed_at_input(way, &standby.ceiling, question, standby.range)?;
        // Nothing is keyed: the attenuator has nothing to guard.
        let attenuation = self.bench.analyser_profile().ranges.attenuation.low();
        let chosen = deep_looks(self, standby.range, attenuation, allowed, 1, PATIENCE);
        let time = chosen.looks.iter().fold(Seconds::new(0.0), |sum, look| sum + look.time_on_the_wire());
        Ok(Some(StandbyApproach {
            floor: chosen.height + self.most_loss(way, standby.range)?,
            ceiling: standby.ceiling.least(question.0, question.1.watts(), standby.range),
            enough: chosen.enough,
            looks: chosen.looks,
            time,
        }))
    }

    /// The look at one line of which a look `rbw` wide showed `shown` at the analyser's input.
    ///
    /// # Errors
    ///
    /// If the path does not cover the frequency.
    pub fn standby_zoom(&self, frequency: Hertz, rbw: Hertz, shown: Dbm) -> Result<Look, PathError> {
        let task = self.line_shown((self.standby_way(), shown), frequency, rbw, shown)?;
        Ok(first_look(self.bench.analyser_profile(), &task))
    }
}
