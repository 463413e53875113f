//! What is known while one question is answered: the question, the facts, and what is supposed in their place.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use spurline_units::Watts;

use crate::condition::Subject;
use crate::fact::{Default, Facts};
use crate::question::Question;
use crate::rule::Rule;
use crate::value::Value;

/// Where a value came from, because a derivation must say so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Origin {
    Given,
    ByDefault,
    /// Nobody said so: one of several cases that are all looked at.
    Supposed,
}

/// Everything that tests and formulas may look at.
#[derive(Clone, Debug)]
pub(crate) struct World<'r> {
    pub(crate) question: Question,
    known: BTreeMap<Cow<'r, str>, (Value, Origin)>,
    unclaimed: BTreeSet<&'r str>,
    /// What a person should know about the facts themselves.
    pub(crate) remarks: Vec<String>,
    /// What this world takes for granted in place of what is missing, as sentences.
    pub(crate) suppositions: Vec<String>,
}

impl<'r> World<'r> {
    pub(crate) fn new(rule: &'r Rule, question: &Question, facts: &'r Facts) -> Self {
        let mut world = Self {
            question: *question,
            known: BTreeMap::new(),
            unclaimed: BTreeSet::new(),
            remarks: Vec::new(),
            suppositions: Vec::new(),
        };
        if let Some(emission) = question.emission() {
            world.learn(Subject::Emission.name(), Value::Frequency(emission), Origin::Given);
        }
        for (name, value) in facts.values() {
            if rule.fact(name).is_some() {
                world.learn(name, value.clone(), Origin::Given);
            } else {
                world.remarks.push(format!("`{name}` is given, but this rule does not ask for it"));
            }
        }
        for fact in rule.facts() {
            world.complete(fact.name(), fact.default());
        }
        let claims = rule.claims().into_iter().filter(|name| !world.known.contains_key(*name));
        world.unclaimed = claims.collect();
        world
    }

    fn learn(&mut self, name: &'r str, value: Value, origin: Origin) {
        self.known.insert(Cow::Borrowed(name), (value, origin));
    }

    fn complete(&mut self, name: &'r str, default: Option<&'r Default>) {
        let mean = self.question.power();
        match (default, self.known.get(name)) {
            (Some(Default::MeanPower), None) => {
                self.remarks.push(format!(
                    "`{name}` is not given: taken equal to the mean power, as for a carrier of constant envelope"
                ));
                self.learn(name, Value::Power(mean), Origin::ByDefault);
            }
            (Some(Default::MeanPower), Some((Value::Power(given), _))) if *given < mean => {
                self.remarks.push(format!(
                    "`{name}` {given} is below the mean power {mean}, which cannot be: the mean power is used"
                ));
                self.learn(name, Value::Power(mean), Origin::ByDefault);
            }
            (Some(Default::Word(word)), None) => {
                self.learn(name, Value::Word(word.clone()), Origin::ByDefault);
            }
            (Some(Default::MeanPower | Default::Word(_)), Some(_)) | (None, _) => {}
        }
    }

    /// The same with one more thing known.
    pub(crate) fn suppose(&self, name: &str, value: Value) -> Self {
        let mut world = self.clone();
        world.known.insert(Cow::Owned(name.to_owned()), (value, Origin::Supposed));
        world
    }

    /// The value of what a test looks at.
    pub(crate) fn look(&self, subject: &Subject) -> Option<(Value, Origin)> {
        match subject {
            Subject::Carrier => Some((Value::Frequency(self.question.carrier()), Origin::Given)),
            Subject::Power => Some((Value::Power(self.question.power()), Origin::Given)),
            Subject::Emission | Subject::Fact(_) => self.known.get(subject.name()).cloned(),
        }
    }

    /// Whether this is a fact that only an exemption asks for and that nobody gave.
    pub(crate) fn is_unclaimed(&self, name: &str) -> bool {
        self.unclaimed.contains(name)
    }

    /// The power that a formula names: the mean power, or a fact.
    pub(crate) fn power_of(&self, name: &str) -> Watts {
        match self.known.get(name) {
            Some((Value::Power(power), _)) => *power,
            _ => self.question.power(),
        }
    }
}
