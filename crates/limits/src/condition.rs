//! When a part of a rule applies: tests, all of which or any of which must hold, and the words for them.

use crate::comparison::Comparison;
use crate::value::Value;
use crate::world::{Origin, World};

/// What a test looks at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Subject {
    Carrier,
    /// The mean power.
    Power,
    /// The frequency of the emission.
    Emission,
    /// How far the emission lies from the carrier.
    Offset,
    /// The same in per cent of the authorised bandwidth.
    OffsetShare,
    /// The frequency of the emission over that of the carrier.
    Multiple,
    Fact(String),
}

/// The name by which a person gives the power of the carrier.
pub(crate) const POWER: &str = "power";
/// The name by which a person gives the frequency of the emission.
pub(crate) const AT: &str = "at";
/// The fact that offsets in per cent are counted from.
pub(crate) const AUTHORISED_BANDWIDTH: &str = "authorised_bandwidth";

/// How it must stand.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Relation {
    Order(Comparison, Value),
    Among(Vec<String>),
}

/// One test.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Test {
    pub(crate) subject: Subject,
    pub(crate) relation: Relation,
}

/// Tests joined.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Condition {
    Test(Test),
    /// Holds if each does; an empty one always holds.
    All(Vec<Condition>),
    Any(Vec<Condition>),
}

/// Whether a condition holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Truth {
    Holds,
    Fails,
    /// This must be known first.
    Missing(String),
}

impl Subject {
    /// The names by which a person gives it: one, or two that it is worked out from.
    pub(crate) fn names(&self) -> &[&str] {
        match self {
            Self::Carrier => &["carrier"],
            Self::Power => &[POWER],
            Self::Emission | Self::Offset | Self::Multiple => &[AT],
            Self::OffsetShare => &[AUTHORISED_BANDWIDTH, AT],
            Self::Fact(_) => &[],
        }
    }

    /// Whether it goes by what a person gives under a name.
    pub(crate) fn goes_by(&self, name: &str) -> bool {
        match self {
            Self::Fact(fact) => fact == name,
            _ => self.names().contains(&name),
        }
    }

    /// How a rule file writes it.
    pub(crate) fn key(&self) -> &str {
        match self {
            Self::Carrier => "carrier",
            Self::Power => POWER,
            Self::Emission => "emission",
            Self::Offset => "offset",
            Self::OffsetShare => "offset_share",
            Self::Multiple => "harmonic",
            Self::Fact(name) => name,
        }
    }

    /// The name of the fact that it is, if it is one.
    pub(crate) fn fact(&self) -> Option<&str> {
        if let Self::Fact(name) = self { Some(name) } else { None }
    }

    /// What a person must give before it can be told.
    fn wanted(&self, world: &World<'_>) -> String {
        match self {
            Self::Fact(fact) => fact.clone(),
            _ => {
                let names = self.names();
                let missing = names.iter().find(|name| !world.knows(name));
                (*missing.or(names.first()).expect("there is a name")).to_owned()
            }
        }
    }

    fn phrase(&self) -> String {
        match self {
            Self::Carrier => "carrier".to_owned(),
            Self::Power => "mean power".to_owned(),
            Self::Emission => "emission".to_owned(),
            Self::Offset => "offset".to_owned(),
            Self::OffsetShare => "offset of the authorised bandwidth".to_owned(),
            Self::Multiple => "emission over carrier".to_owned(),
            Self::Fact(name) => format!("`{name}`"),
        }
    }
}

impl Test {
    /// The boundary, where it orders.
    pub(crate) const fn bound(&self) -> Option<&Value> {
        match &self.relation {
            Relation::Order(_, bound) => Some(bound),
            Relation::Among(_) => None,
        }
    }

    /// Whether a value passes; `None` where a whole year lies on both sides of the boundary.
    pub(crate) fn passes(&self, value: &Value) -> Option<bool> {
        let [first, last] = value.ends().map(|end| self.passes_exactly(&end));
        if first == last { first } else { None }
    }

    fn passes_exactly(&self, value: &Value) -> Option<bool> {
        match (&self.relation, value) {
            (Relation::Order(comparison, bound), _) => {
                value.order(bound).map(|ordering| comparison.holds(ordering))
            }
            (Relation::Among(words), Value::Word(word)) => Some(words.contains(word)),
            (Relation::Among(_), _) => None,
        }
    }

    pub(crate) fn truth(&self, world: &World<'_>) -> Truth {
        match world.look(&self.subject).and_then(|(value, _)| self.passes(&value)) {
            Some(true) => Truth::Holds,
            Some(false) => Truth::Fails,
            None => match self.subject.wanted(world) {
                name if world.is_unclaimed(&name) => Truth::Fails,
                name => Truth::Missing(name),
            },
        }
    }

    /// The test as a sentence that is true in this world, with the value that makes it so.
    fn say(&self, world: &World<'_>) -> String {
        let subject = self.subject.phrase();
        match world.look(&self.subject) {
            None => format!("{subject} is not claimed"),
            Some((_, Origin::Supposed)) => format!("supposing {}", self.bare(world)),
            Some((Value::Word(_), Origin::Given)) => self.bare(world),
            Some((Value::Word(_), Origin::ByDefault)) => format!("{} by default", self.bare(world)),
            Some((value, Origin::Given | Origin::ByDefault)) => {
                format!("{subject} {value} is {}", self.relation_in(world))
            }
        }
    }

    /// The test as a sentence that is true in this world, without the value.
    pub(crate) fn bare(&self, world: &World<'_>) -> String {
        format!("{} is {}", self.subject.phrase(), self.relation_in(world))
    }

    fn relation_in(&self, world: &World<'_>) -> String {
        let holds = self.truth(world) == Truth::Holds;
        match &self.relation {
            Relation::Order(comparison, bound) => {
                let comparison = if holds { *comparison } else { comparison.opposite() };
                format!("{} {bound}", comparison.phrase(matches!(bound, Value::Date { .. })))
            }
            Relation::Among(words) => {
                let words = words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(" or ");
                if holds { words } else { format!("not {words}") }
            }
        }
    }
}

impl Condition {
    /// What always holds.
    pub(crate) const ALWAYS: Self = Self::All(Vec::new());

    pub(crate) fn truth(&self, world: &World<'_>) -> Truth {
        let (parts, decisive) = match self {
            Self::Test(test) => return test.truth(world),
            Self::All(parts) => (parts, Truth::Fails),
            Self::Any(parts) => (parts, Truth::Holds),
        };
        let truths: Vec<Truth> = parts.iter().map(|part| part.truth(world)).collect();
        if truths.contains(&decisive) {
            return decisive;
        }
        let otherwise = if decisive == Truth::Fails { Truth::Holds } else { Truth::Fails };
        truths.into_iter().find(|truth| matches!(truth, Truth::Missing(_))).unwrap_or(otherwise)
    }

    /// The sentences that make the condition hold or fail in this world, joined; empty if it always holds.
    pub(crate) fn say(&self, world: &World<'_>) -> String {
        let mut sentences = Vec::new();
        self.reasons(world, &mut sentences);
        sentences.join(", ")
    }

    fn reasons(&self, world: &World<'_>, sentences: &mut Vec<String>) {
        let truth = self.truth(world);
        match self {
            Self::Test(test) => sentences.push(test.say(world)),
            Self::All(parts) | Self::Any(parts) => {
                for part in parts.iter().filter(|part| part.truth(world) == truth) {
                    part.reasons(world, sentences);
                }
            }
        }
    }

    /// Every test in it.
    pub(crate) fn tests(&self) -> Vec<&Test> {
        match self {
            Self::Test(test) => vec![test],
            Self::All(parts) | Self::Any(parts) => parts.iter().flat_map(Self::tests).collect(),
        }
    }
}
