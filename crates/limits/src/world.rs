//! What is known while one question is answered: the question, the facts, and what is supposed in their place.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use spurline_units::{Hertz, Watts};

use crate::condition::{AT, AUTHORISED_BANDWIDTH, Subject};
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
            world.learn(AT, Value::Frequency(emission), Origin::Given);
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
            Subject::Emission => self.known.get(AT).cloned(),
            Subject::Offset => {
                let (emission, origin) = self.frequency(AT)?;
                Some((Value::Frequency(self.question.offset_of(emission)), origin))
            }
            Subject::Multiple => {
                let (emission, origin) = self.frequency(AT)?;
                Some((Value::Multiple(emission / self.question.carrier()), origin))
            }
            Subject::OffsetShare => {
                let (emission, of_emission) = self.frequency(AT)?;
                let (width, of_width) = self.frequency(AUTHORISED_BANDWIDTH)?;
                let supposed = of_emission == Origin::Supposed || of_width == Origin::Supposed;
                let origin = if supposed { Origin::Supposed } else { Origin::Given };
                Some((Value::Share(self.question.offset_of(emission) / width * 100.0), origin))
            }
            Subject::Fact(name) => self.known.get(name.as_str()).cloned(),
        }
    }

    fn frequency(&self, name: &str) -> Option<(Hertz, Origin)> {
        match self.known.get(name) {
            Some((Value::Frequency(frequency), origin)) => Some((*frequency, *origin)),
            _ => None,
        }
    }

    /// The figure of a frequency or power that is known under a name.
    pub(crate) fn figure(&self, name: &str) -> Option<f64> {
        match self.known.get(name)? {
            (Value::Frequency(frequency), _) => Some(frequency.get()),
            (Value::Power(power), _) => Some(power.get()),
            _ => None,
        }
    }

    /// Whether something is known under a name.
    pub(crate) fn knows(&self, name: &str) -> bool {
        self.known.contains_key(name)
    }

    /// The offset of an emission that somebody gave; one that is only supposed says nothing about a figure that goes
    /// with it.
    pub(crate) fn offset(&self) -> Option<Hertz> {
        let (emission, origin) = self.frequency(AT)?;
        (origin != Origin::Supposed).then(|| self.question.offset_of(emission))
    }

    /// What must be given under a name for a subject to stand at a bound; `None` where that is not known.
    pub(crate) fn given(&self, name: &str, subject: &Subject, bound: &Value) -> Option<Value> {
        let carrier = self.question.carrier();
        match (subject, bound) {
            (Subject::Offset, Value::Frequency(offset)) => Some(Value::Frequency(carrier + *offset)),
            (Subject::Multiple, Value::Multiple(multiple)) => Some(Value::Frequency(carrier * *multiple)),
            (Subject::OffsetShare, Value::Share(share)) if name == AT => {
                let (width, _) = self.frequency(AUTHORISED_BANDWIDTH)?;
                Some(Value::Frequency(carrier + width * (*share / 100.0)))
            }
            (Subject::OffsetShare, Value::Share(share)) => {
                let (emission, _) = self.frequency(AT)?;
                Some(Value::Frequency(self.question.offset_of(emission) * (100.0 / *share)))
            }
            _ => Some(bound.clone()),
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
