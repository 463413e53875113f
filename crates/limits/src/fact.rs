//! What a rule must be told beyond the question: its facts, and the values a person gave for them.

use std::collections::BTreeMap;

use spurline_document::{Node, Reader};
use spurline_units::{Hertz, QuantityError};
use thiserror::Error;

use crate::condition::{Relation, Test};
use crate::rule::Rule;
use crate::value::{Kind, Value, parse_date, parse_power};

/// Facts that mean the same in every rule. One that the rule at hand does not ask for may be given all the same,
/// so that a plan can be judged under several rules.
const COMMON: &[(&str, Kind)] = &[
    ("installed", Kind::Date),
    ("built", Kind::Date),
    ("first_marketed", Kind::Date),
    ("type_accepted", Kind::Date),
    ("pep", Kind::Power),
    ("rated_power", Kind::Power),
    ("authorised_bandwidth", Kind::Frequency),
    ("channel_width", Kind::Frequency),
    ("emission_class", Kind::Word),
    ("station_class", Kind::Word),
    ("service", Kind::Word),
    ("state", Kind::Word),
];

/// The kind that a common fact has in every rule.
pub(crate) fn common_kind(name: &str) -> Option<Kind> {
    COMMON.iter().find(|(common, _)| *common == name).map(|(_, kind)| *kind)
}

/// Something that a rule may ask for.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    pub(crate) name: String,
    pub(crate) kind: Kind,
    pub(crate) meaning: String,
    pub(crate) words: Vec<String>,
    pub(crate) default: Option<Default>,
}

/// What holds where nothing was said.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Default {
    /// As much as the mean power, which is then also the least that the fact can be.
    MeanPower,
    Word(String),
}

impl Fact {
    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What kind of value it has.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        self.kind
    }

    /// What it is, in words.
    #[must_use]
    pub fn meaning(&self) -> &str {
        &self.meaning
    }

    /// All that it may be, for a fact of kind word; else empty.
    #[must_use]
    pub fn words(&self) -> &[String] {
        &self.words
    }

    pub(crate) const fn default(&self) -> Option<&Default> {
        self.default.as_ref()
    }
}

/// Values of facts, checked against one rule.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts(BTreeMap<String, Value>);

/// Why a fact cannot be taken. A second line of the message, if there is one, is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FactError {
    /// There is no `=` in it.
    #[error("expected a fact as `NAME=VALUE`, found `{0}`\nwrite for example `installed=2010`")]
    NotAPair(String),
    /// No rule asks for it.
    #[error("`{name}` is not a fact of `{rule}`\nfacts known here: {known}")]
    Unknown {
        /// The name that was given.
        name: String,
        /// The rule.
        rule: String,
        /// The names that would be right.
        known: String,
    },
    /// It was given before.
    #[error("the fact `{0}` is given twice")]
    Twice(String),
    /// Not a date.
    #[error("expected a date for `{name}`, found `{found}`\nwrite `YYYY-MM-DD` or `YYYY`")]
    Date {
        /// The fact.
        name: String,
        /// What stood there.
        found: String,
    },
    /// A year in which the rule changes.
    #[error(
        "the rule changes within `{year}`: it turns on `{name}` {boundary}\nwrite the day, as `YYYY-MM-DD`"
    )]
    Straddles {
        /// The fact.
        name: String,
        /// The year that was given.
        year: String,
        /// The day that the rule compares with, and how.
        boundary: String,
    },
    /// Not a quantity of its kind.
    #[error("{error}")]
    Quantity {
        /// What is wrong with it.
        #[from]
        error: QuantityError,
    },
    /// A power without a level.
    #[error("expected a power from -300 dBm to 150 dBm for `{name}`, found `{found}`")]
    Power {
        /// The fact.
        name: String,
        /// What stood there.
        found: String,
    },
    /// Not one of the words.
    #[error("expected a word that the rule knows for `{name}`, found `{found}`\nknown here: {known}")]
    Word {
        /// The fact.
        name: String,
        /// What stood there.
        found: String,
        /// The words that would be right.
        known: String,
    },
}

impl Facts {
    /// Takes a fact as it was written.
    ///
    /// A bare year is refused where the rule draws a line within it.
    ///
    /// # Errors
    ///
    /// [`FactError`], and the fact is not taken.
    pub fn set(&mut self, rule: &Rule, name: &str, text: &str) -> Result<(), FactError> {
        let name = name.trim();
        let (kind, words) = match (rule.fact(name), common_kind(name)) {
            (Some(fact), _) => (fact.kind(), Some(fact.words())),
            (None, Some(kind)) => (kind, None),
            (None, None) => return Err(unknown(rule, name)),
        };
        let value = parse(name, kind, text.trim(), words)?;
        let mut tests = rule.tests_on(name).into_iter().filter(|test| test.subject.fact() == Some(name));
        if let Some(test) = tests.find(|test| test.passes(&value).is_none()) {
            return Err(straddles(name, &value, test));
        }
        if self.0.contains_key(name) {
            return Err(FactError::Twice(name.to_owned()));
        }
        self.0.insert(name.to_owned(), value);
        Ok(())
    }

    /// Takes a fact written as `NAME=VALUE`.
    ///
    /// # Errors
    ///
    /// [`FactError`], and the fact is not taken.
    pub fn set_pair(&mut self, rule: &Rule, pair: &str) -> Result<(), FactError> {
        let (name, text) = pair.split_once('=').ok_or_else(|| FactError::NotAPair(pair.trim().to_owned()))?;
        self.set(rule, name, text)
    }

    /// Reads the facts of a plan, a map from names to values; notes every mistake and returns `None` if there
    /// was one.
    pub fn read(reader: &mut Reader, node: &Node, rule: &Rule) -> Option<Self> {
        let entries = reader.fields(node, "the facts")?.entries();
        let mut facts = Self::default();
        let mut clean = true;
        for entry in entries {
            let Some(text) = reader.text(&entry.node, "the value of a fact") else {
                clean = false;
                continue;
            };
            if let Err(error) = facts.set(rule, &entry.key, text) {
                let at_name = matches!(error, FactError::Unknown { .. } | FactError::Twice(_));
                reader.error(if at_name { entry.key_span } else { entry.node.span }, &error);
                clean = false;
            }
        }
        clean.then_some(facts)
    }

    /// Reads facts for several rules at once, one set a rule: a name or a word that only some of them know is left to
    /// those.
    ///
    /// Notes every mistake and returns `None` if there was one, among them a name that no rule knows.
    pub fn read_for(reader: &mut Reader, node: &Node, rules: &[&Rule]) -> Option<Vec<Self>> {
        let entries = reader.fields(node, "the facts")?.entries();
        let known = |name: &str| rules.iter().any(|rule| rule.fact(name).is_some());
        let mut all: Vec<Self> = rules.iter().map(|_| Self::default()).collect();
        let mut clean = true;
        for entry in entries {
            let Some(text) = reader.text(&entry.node, "the value of a fact") else {
                clean = false;
                continue;
            };
            let name = entry.key.trim();
            let asked = |rule: &Rule| rule.fact(name).is_some() || !known(name);
            let answers: Vec<Result<(), FactError>> = rules
                .iter()
                .zip(&mut all)
                .filter(|(rule, _)| asked(rule))
                .map(|(rule, facts)| facts.set(rule, name, text))
                .collect();
            let words_differ = answers.iter().any(Result::is_ok);
            // What is wrong with it is the same to every rule; only their words are their own.
            let mut wrong = answers.into_iter().filter_map(Result::err);
            let wrong = wrong.find(|error| !(words_differ && matches!(error, FactError::Word { .. })));
            if let Some(error) = wrong {
                let at_name = matches!(error, FactError::Unknown { .. } | FactError::Twice(_));
                reader.error(if at_name { entry.key_span } else { entry.node.span }, &error);
                clean = false;
            }
        }
        clean.then_some(all)
    }

    /// Takes over what others know and a rule asks for, where nothing was said here; a word that the rule does not know
    /// is left out.
    pub fn fill(&mut self, rule: &Rule, others: &Self) {
        for (name, value) in others.iter().filter(|(name, _)| rule.fact(name).is_some()) {
            // What was said here goes before, and one that this rule cannot take stays missing, which is told.
            drop(self.set(rule, name, &value));
        }
    }

    /// Names and values, in the order of the names, each value as a text that reads back.
    pub fn iter(&self) -> impl Iterator<Item = (&str, String)> {
        self.0.iter().map(|(name, value)| match value {
            Value::Word(word) => (name.as_str(), word.clone()),
            value => (name.as_str(), value.to_string()),
        })
    }

    /// Takes a value for granted, whatever a rule says to it.
    pub(crate) fn suppose(&mut self, name: &str, value: Value) {
        self.0.insert(name.to_owned(), value);
    }

    pub(crate) fn values(&self) -> impl Iterator<Item = (&str, &Value)> {
        self.0.iter().map(|(name, value)| (name.as_str(), value))
    }
}

fn parse(name: &str, kind: Kind, text: &str, words: Option<&[String]>) -> Result<Value, FactError> {
    let (owned_name, found) = (name.to_owned(), text.to_owned());
    match kind {
        Kind::Date => parse_date(text).ok_or(FactError::Date { name: owned_name, found }),
        Kind::Frequency => Ok(Value::Frequency(text.parse::<Hertz>()?)),
        Kind::Power => match parse_power(text) {
            Ok((power, _)) => Ok(Value::Power(power)),
            Err(Some(error)) => Err(error.into()),
            Err(None) => Err(FactError::Power { name: owned_name, found }),
        },
        Kind::Word => match words {
            Some(words) if !words.contains(&found) => {
                Err(FactError::Word { name: owned_name, found, known: words.join(", ") })
            }
            Some(_) | None => Ok(Value::Word(found)),
        },
    }
}

fn unknown(rule: &Rule, name: &str) -> FactError {
    let own = rule.facts().iter().map(Fact::name);
    let common = COMMON.iter().map(|(name, _)| *name).filter(|name| rule.fact(name).is_none());
    let known = own.chain(common).collect::<Vec<_>>().join(", ");
    FactError::Unknown { name: name.to_owned(), rule: rule.name().to_owned(), known }
}

fn straddles(name: &str, year: &Value, test: &Test) -> FactError {
    let boundary = match &test.relation {
        Relation::Order(comparison, bound) => format!("{} {bound}", comparison.phrase(true)),
        Relation::Among(words) => words.join(" or "),
    };
    FactError::Straddles { name: name.to_owned(), year: year.to_string(), boundary }
}
