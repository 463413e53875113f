//! Where a limit changes otherwise than evenly: a jump, a gap, an end. A rule that was copied with a slip shows it here.

use spurline_units::{Dbm, Hertz, Watts};

use crate::condition::{AT, POWER};
use crate::fact::Facts;
use crate::finding::Verdict;
use crate::question::Question;
use crate::rule::{Part, Rule};
use crate::value::Value;
use crate::world::World;

/// What a rule says at one place.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// A level.
    Level(Dbm),
    /// It has no number there, or its numbers do not apply.
    Nothing,
    /// It must know more first.
    NeedsToKnow(Vec<String>),
}

/// Along what a limit was followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Along {
    /// The frequency of the emission.
    Emission(Hertz),
    /// The power of the carrier.
    Power(Watts),
}

/// A boundary of the rule, and the limit on either side of it and at it.
#[derive(Clone, Debug, PartialEq)]
pub struct Seam {
    /// Where.
    pub at: Along,
    /// Just below.
    pub below: Said,
    /// At the boundary itself.
    pub exactly: Said,
    /// Just above.
    pub above: Said,
}

/// A step of less is none: figures of texts are rounded.
const EVEN_DB: f64 = 0.1;
/// How far to both sides of a boundary one looks: far above rounding, and a slope of any mask has no width there.
const BESIDE_HZ: f64 = 1.0;
const BESIDE_SHARE: f64 = 1e-6;

impl Seam {
    /// Whether the limit goes on evenly there.
    #[must_use]
    pub fn is_even(&self) -> bool {
        let same = |one: &Said, other: &Said| match (one, other) {
            (Said::Level(one), Said::Level(other)) => (*one - *other).abs().get() < EVEN_DB,
            (one, other) => one == other,
        };
        same(&self.below, &self.exactly) && same(&self.exactly, &self.above)
    }
}

impl Rule {
    /// Every boundary that the rule has for a carrier, along the emission's frequency and along the power, in rising
    /// order.
    #[must_use]
    pub fn seams(&self, question: &Question, facts: &Facts) -> Vec<Seam> {
        let world = World::new(self, question, facts);
        let said = |question: &Question| match self.limit(question, facts).verdict {
            Verdict::Limit { level, .. } => Said::Level(level),
            Verdict::NoLimit | Verdict::Exempt => Said::Nothing,
            Verdict::Undetermined { missing, .. } => Said::NeedsToKnow(missing),
        };
        let along_emission = self.boundaries(AT, &world).into_iter().filter_map(|value| match value {
            Value::Frequency(at) if at.get() > BESIDE_HZ => Some(Seam {
                at: Along::Emission(at),
                below: said(&question.at(at - Hertz::new(BESIDE_HZ))),
                exactly: said(&question.at(at)),
                above: said(&question.at(at + Hertz::new(BESIDE_HZ))),
            }),
            _ => None,
        });
        let mut seams: Vec<Seam> = along_emission.collect();
        let powers = self.boundaries(POWER, &world).into_iter();
        for power in
            powers.filter_map(|value| if let Value::Power(power) = value { Some(power) } else { None })
        {
            let at =
                |factor: f64| question.with_power(power * factor).map_or(Said::Nothing, |asked| said(&asked));
            seams.push(Seam {
                at: Along::Power(power),
                below: at(1.0 - BESIDE_SHARE),
                exactly: at(1.0),
                above: at(1.0 + BESIDE_SHARE),
            });
        }
        seams
    }

    /// What must be given under a name to stand at each boundary, in rising order.
    fn boundaries(&self, name: &str, world: &World<'_>) -> Vec<Value> {
        let tests = self.tests_of(Part::Limits, name);
        let mut values: Vec<Value> = Vec::new();
        for test in tests {
            let given = test.bound().and_then(|bound| world.given(name, &test.subject, bound));
            values.extend(given.filter(|value| !values.contains(value)));
        }
        values.sort_by(|one, other| one.order(other).unwrap_or(std::cmp::Ordering::Equal));
        values
    }
}
