//! How far a carrier may lie from its assigned frequency: rows of a rule, and the finding for one carrier.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use spurline_units::{Hertz, QuantityError};
use thiserror::Error;

use crate::condition::{Condition, Subject, Truth};
use crate::derive::{because, holds, interpret};
use crate::explore::{Explorer, Missing};
use crate::fact::Facts;
use crate::finding::Status;
use crate::question::Question;
use crate::rule::{Interpretation, Part, Rule};
use crate::world::World;

/// A tolerance as a text states it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// Parts per million of the assigned frequency.
    Ppm(f64),
    /// So far, whatever the frequency.
    Absolute(Hertz),
}

/// Why a text is not a tolerance. A second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ToleranceError {
    /// Neither parts per million nor a frequency.
    #[error("expected a tolerance such as `5 ppm` or `50 Hz`, found `{0}`\n{1}")]
    Unreadable(String, String),
    /// Zero, or beyond what anybody would call a tolerance.
    #[error("expected a tolerance above 0 and up to 10000 ppm, found `{0}`")]
    OutOfRange(String),
}

/// One row: when it answers, and the tolerance.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ToleranceRow {
    pub(crate) when: Condition,
    pub(crate) says: String,
    /// Where it is published, where that differs from the rule's.
    pub(crate) source: Option<String>,
    /// How far it was checked, where that differs from the rule's.
    pub(crate) status: Option<Status>,
    pub(crate) interpretations: Vec<Interpretation>,
    pub(crate) tolerance: Tolerance,
}

/// The answer about a carrier's frequency.
#[derive(Clone, Debug, PartialEq)]
pub enum ToleranceVerdict {
    /// There is a number.
    Tolerance {
        /// How far the carrier may lie to either side of its assigned frequency.
        hertz: Hertz,
        /// The same in parts per million of that frequency.
        ppm: f64,
        /// As the text has it.
        stated: Tolerance,
    },
    /// The rule has no number here; that is no permission and no pass.
    NoTolerance,
    /// A fact is missing that the answer turns on.
    Undetermined {
        /// The facts to ask for.
        missing: Vec<String>,
        /// Every answer that stays possible, none of them undetermined, each row once.
        possible: Vec<ToleranceFinding>,
    },
}

/// The answer with its reasons.
#[derive(Clone, Debug, PartialEq)]
pub struct ToleranceFinding {
    /// The answer.
    pub verdict: ToleranceVerdict,
    /// How it follows, a line a step, for a person.
    pub derivation: Vec<String>,
    /// The published text that answered, for example `47 CFR 90.213`.
    pub source: String,
    /// How far that text was checked.
    pub status: Status,
    /// The row that answered, from 1; absent where none did.
    pub row: Option<usize>,
}

impl ToleranceFinding {
    /// Every answer that must be judged: the possible ones of an undetermined finding, else the finding itself.
    #[must_use]
    pub fn branches(&self) -> &[Self] {
        match &self.verdict {
            ToleranceVerdict::Undetermined { possible, .. } => possible,
            ToleranceVerdict::Tolerance { .. } | ToleranceVerdict::NoTolerance => std::slice::from_ref(self),
        }
    }

    /// The tolerance to either side, where there is exactly one.
    #[must_use]
    pub const fn hertz(&self) -> Option<Hertz> {
        match self.verdict {
            ToleranceVerdict::Tolerance { hertz, .. } => Some(hertz),
            ToleranceVerdict::NoTolerance | ToleranceVerdict::Undetermined { .. } => None,
        }
    }
}

impl Rule {
    /// How far the carrier may lie from its assigned frequency, and how that follows.
    ///
    /// The question's carrier is the assigned frequency; its emission has no say.
    #[must_use]
    pub fn tolerance(&self, question: &Question, facts: &Facts) -> ToleranceFinding {
        let world = World::new(self, &question.of_any_emission(), facts);
        match self.judge_tolerance(&world) {
            Ok(finding) => finding,
            Err(Missing(name)) => self.undetermined_tolerance(&world, name),
        }
    }

    fn judge_tolerance(&self, world: &World<'_>) -> Result<ToleranceFinding, Missing> {
        let mut lines = self.opening(world);
        for (place, row) in self.tolerances.iter().enumerate() {
            let number = place + 1;
            if !holds(&row.when, world)? {
                // Of a table by bands, the rows of other bands would bury those that matter.
                if !is_of_another_carrier(&row.when, world) {
                    lines.push(format!("not row {number}{}", because(&row.when, world)));
                }
                continue;
            }
            lines.push(format!("row {number}{}", because(&row.when, world)));
            lines.push(format!("demand: {}", row.says));
            interpret(&row.interpretations, world, &mut lines)?;
            let source = row.source.clone().unwrap_or_else(|| self.head.source.clone());
            let status = row.status.unwrap_or(self.head.status);
            if let Some(caveat) = status.caveat() {
                lines.push(format!("{caveat}: {source} is {status}"));
            }
            let carrier = world.question.carrier();
            let (hertz, ppm) = row.tolerance.at(carrier);
            lines.push(match row.tolerance {
                Tolerance::Ppm(ppm) => format!("tolerance: {ppm} ppm of {carrier} = {}", shown(hertz)),
                Tolerance::Absolute(_) => {
                    format!("tolerance: {} = {} ppm of {carrier}", shown(hertz), rounded(ppm))
                }
            });
            let verdict = ToleranceVerdict::Tolerance { hertz, ppm, stated: row.tolerance };
            return Ok(ToleranceFinding { verdict, derivation: lines, source, status, row: Some(number) });
        }
        lines.push(if self.has_tolerances() {
            "no tolerance: no row of this rule applies".to_owned()
        } else {
            "no tolerance: this rule has none".to_owned()
        });
        Ok(ToleranceFinding {
            verdict: ToleranceVerdict::NoTolerance,
            derivation: lines,
            source: self.head.source.clone(),
            status: self.head.status,
            row: None,
        })
    }

    fn undetermined_tolerance(&self, world: &World<'_>, name: String) -> ToleranceFinding {
        let explorer = Explorer {
            rule: self,
            part: Part::Tolerances,
            judge: &|world| self.judge_tolerance(world),
            same: |one, other| one.row == other.row && one.verdict == other.verdict,
        };
        let (missing, possible) = explorer.explore(world, name);
        let mut derivation = self.opening(world);
        derivation.extend(self.asked(&missing));
        for case in &possible {
            let outcome = match &case.finding.verdict {
                ToleranceVerdict::Tolerance { hertz, stated, .. } => format!("{stated}, {}", shown(*hertz)),
                ToleranceVerdict::NoTolerance | ToleranceVerdict::Undetermined { .. } => {
                    "no tolerance".to_owned()
                }
            };
            let row = case.finding.row.map_or_else(|| "no row".to_owned(), |row| format!("row {row}"));
            derivation.push(format!("if {}: {row}: {outcome}", case.supposing.join(", ")));
        }
        let possible: Vec<ToleranceFinding> = possible.into_iter().map(|case| case.finding).collect();
        let sources: BTreeSet<&str> = possible.iter().map(|finding| finding.source.as_str()).collect();
        let source = sources.into_iter().collect::<Vec<_>>().join("; ");
        let status = possible.iter().map(|finding| finding.status).fold(Status::Verified, Status::max);
        let missing = missing.into_iter().collect();
        let verdict = ToleranceVerdict::Undetermined { missing, possible };
        ToleranceFinding { verdict, derivation, source, status, row: None }
    }
}

/// Whether a condition fails by the carrier alone.
fn is_of_another_carrier(condition: &Condition, world: &World<'_>) -> bool {
    match condition {
        Condition::Test(test) => test.subject == Subject::Carrier && test.truth(world) == Truth::Fails,
        Condition::All(parts) => parts.iter().any(|part| is_of_another_carrier(part, world)),
        Condition::Any(parts) => parts.iter().all(|part| is_of_another_carrier(part, world)),
    }
}

impl Tolerance {
    /// The most that can be meant, in parts per million: 1 % of the carrier.
    const MOST_PPM: f64 = 1e4;

    /// How far that is from a frequency, and in parts per million of it.
    #[must_use]
    pub fn at(self, carrier: Hertz) -> (Hertz, f64) {
        match self {
            Self::Ppm(ppm) => (carrier * ppm / 1e6, ppm),
            Self::Absolute(hertz) => (hertz, hertz / carrier * 1e6),
        }
    }
}

impl FromStr for Tolerance {
    type Err = ToleranceError;

    fn from_str(text: &str) -> Result<Self, ToleranceError> {
        let text = text.trim();
        let unreadable = |advice: &str| ToleranceError::Unreadable(text.to_owned(), advice.to_owned());
        let within = |tolerance: Self, is_so: bool| {
            if is_so { Ok(tolerance) } else { Err(ToleranceError::OutOfRange(text.to_owned())) }
        };
        let Some(figure) = text.strip_suffix("ppm") else {
            return match text.parse::<Hertz>() {
                Ok(hertz) => within(Self::Absolute(hertz), hertz.get() > 0.0),
                Err(QuantityError::OutOfRange { .. }) => Err(ToleranceError::OutOfRange(text.to_owned())),
                Err(_) => Err(unreadable("write the unit behind the number")),
            };
        };
        let plain = figure.trim();
        let is_plain = plain.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        match plain.parse::<f64>().ok().filter(|_| is_plain) {
            Some(ppm) => within(Self::Ppm(ppm), ppm > 0.0 && ppm <= Self::MOST_PPM),
            None => Err(unreadable("write the number in plain digits")),
        }
    }
}

impl fmt::Display for Tolerance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ppm(ppm) => write!(f, "{ppm} ppm"),
            Self::Absolute(hertz) => hertz.fmt(f),
        }
    }
}

/// A tolerance in hertz, to the tenth: nobody measures a carrier finer here.
fn shown(hertz: Hertz) -> String {
    format!("{} Hz", (hertz.get() * 10.0).round() / 10.0)
}

/// Parts per million for people.
fn rounded(ppm: f64) -> f64 {
    const DIGITS: f64 = 1e4;
    (ppm * DIGITS).round() / DIGITS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tolerances_read_and_print() {
        for text in ["5 ppm", "0.1 ppm", "50 Hz", "1.5 kHz"] {
            assert_eq!(text.parse::<Tolerance>().unwrap().to_string(), text);
        }
        assert_eq!("2.5ppm".parse(), Ok(Tolerance::Ppm(2.5)));
    }

    #[test]
    fn slips_are_named() {
        let error = |text: &str| text.parse::<Tolerance>().unwrap_err().to_string();
        assert!(error("5").starts_with("expected a tolerance such as `5 ppm`"));
        assert!(error("5 ppb").contains("such as"));
        assert!(error("-5 ppm").contains("plain digits"));
        assert!(error("inf ppm").contains("plain digits"));
        assert!(error("0 ppm").contains("above 0"));
        assert!(error("0 Hz").contains("above 0"));
        assert!(error("20000 ppm").contains("up to 10000 ppm"));
    }
}
