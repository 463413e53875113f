//! The highest level that an emission may have which is no harmonic of a carrier: a figure of the plan's, or a rule.

use spurline_limits::{Finding, Question, Rule};
use spurline_record::Derivation;
use spurline_units::{Dbm, Hertz, Range, Watts};

use crate::rules::RuleUse;

/// The highest level that is let pass, at the connector.
#[derive(Clone, Debug)]
pub enum Ceiling {
    /// The same everywhere.
    Level {
        /// The level.
        level: Dbm,
        /// The file and key that it stands in.
        source: String,
    },
    /// What a rule says at each frequency.
    Rule(Box<RuleUse>),
}

impl PartialEq for Ceiling {
    /// Rules are told apart by their names, and by what they are told.
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Level { level, source }, Self::Level { level: other, source: of_other }) => {
                level == other && source == of_other
            }
            (Self::Rule(rule), Self::Rule(other)) => {
                rule.rule.name() == other.rule.name() && rule.facts == other.facts
            }
            (Self::Level { .. }, Self::Rule(_)) | (Self::Rule(_), Self::Level { .. }) => false,
        }
    }
}

/// Places of a range at which a rule is asked for its strictest limit within it.
const PLACES: u32 = 9;

impl Ceiling {
    /// The level at a frequency; `None` where the rule has no single number. `carrier` and `power` are those of the
    /// transmitter that the unit also is, for rules that ask.
    #[must_use]
    pub fn at(&self, carrier: Hertz, power: Watts, frequency: Hertz) -> Option<Dbm> {
        match self {
            Self::Level { level, .. } => Some(*level),
            Self::Rule(_) => self.finding(carrier, power, frequency)?.level(),
        }
    }

    /// The rule, if it is one.
    #[must_use]
    pub fn rule(&self) -> Option<&Rule> {
        match self {
            Self::Rule(rule) => Some(&rule.rule),
            Self::Level { .. } => None,
        }
    }

    pub(crate) fn rule_mut(&mut self) -> Option<&mut RuleUse> {
        match self {
            Self::Rule(rule) => Some(rule),
            Self::Level { .. } => None,
        }
    }

    /// What a rule says at a frequency; `None` for a level of the plan's.
    #[must_use]
    pub fn finding(&self, carrier: Hertz, power: Watts, frequency: Hertz) -> Option<Finding> {
        let Self::Rule(rule) = self else { return None };
        let question = Question::new(carrier, power).ok()?.at(frequency);
        Some(rule.rule.limit(&question, &rule.facts))
    }

    /// The strictest level within a range, by several of its places; `None` where one of them has no number.
    #[must_use]
    pub fn least(&self, carrier: Hertz, power: Watts, range: Range<Hertz>) -> Option<Dbm> {
        let step = (range.high() - range.low()) / f64::from(PLACES - 1);
        let places = (0..PLACES).map(|n| range.low() + step * f64::from(n));
        places.map(|at| self.at(carrier, power, at)).collect::<Option<Vec<_>>>()?.into_iter().reduce(Dbm::min)
    }

    /// Where the level at a frequency comes from.
    #[must_use]
    pub fn derivation(&self, carrier: Hertz, power: Watts, frequency: Hertz) -> Derivation {
        match self {
            Self::Level { level, source } => Derivation {
                source: source.clone(),
                steps: vec![format!("no more than {level} at the connector, at any frequency")],
            },
            Self::Rule(_) => {
                let finding = self.finding(carrier, power, frequency);
                finding.map_or_else(Derivation::default, |finding| Derivation {
                    source: finding.source,
                    steps: finding.derivation,
                })
            }
        }
    }
}
