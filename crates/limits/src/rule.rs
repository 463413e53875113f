//! A rule as it was read: paragraphs, rows, and what may be asked about them.

use std::collections::BTreeSet;

use crate::bandwidth::ReferenceBandwidth;
use crate::classes::classes;
use crate::condition::{AT, Condition, Subject, Test};
use crate::expression::Expression;
use crate::fact::Fact;
use crate::finding::Status;
use crate::head::Head;
use crate::lint::Expected;
use crate::tolerance::ToleranceRow;
use crate::value::Value;
use crate::world::World;

/// One published regulation as data.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    pub(crate) head: Head,
    pub(crate) facts: Vec<Fact>,
    pub(crate) paragraphs: Vec<Paragraph>,
    pub(crate) tolerances: Vec<ToleranceRow>,
    pub(crate) expected: Vec<Expected>,
}

/// What of a rule is asked: one question turns on other facts than the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    Limits,
    Tolerances,
}

/// One paragraph of the regulation; of those that apply, the first answers.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Paragraph {
    pub(crate) name: String,
    pub(crate) source: String,
    pub(crate) status: Status,
    pub(crate) reference_bandwidth: ReferenceBandwidth,
    /// What the decibels of its limits count from, in words.
    pub(crate) reference_power: String,
    pub(crate) applies: Condition,
    pub(crate) exempt: Option<Condition>,
    pub(crate) interpretations: Vec<Interpretation>,
    pub(crate) body: Body,
}

/// What a paragraph demands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Body {
    /// Of those that apply, the first answers.
    Rows(Vec<Row>),
    /// No number, and why.
    NoLimit(String),
}

/// One row of numbers.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Row {
    pub(crate) when: Condition,
    pub(crate) says: String,
    pub(crate) interpretations: Vec<Interpretation>,
    pub(crate) limit: Expression,
    /// What it is measured in, where that differs from its paragraph's.
    pub(crate) reference_bandwidth: Option<ReferenceBandwidth>,
}

/// A place where the text can be read in more than one way, and how it is read here.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Interpretation {
    pub(crate) when: Condition,
    pub(crate) text: String,
}

impl Rule {
    /// The name, which is also that of the file.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.head.name
    }

    /// What the rule is, in words.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.head.title
    }

    /// The regulation, for example `47 CFR 97.307`.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.head.source
    }

    /// The edition that was read.
    #[must_use]
    pub fn edition(&self) -> &str {
        &self.head.edition
    }

    /// The regulation and the edition that was read, as a record keeps them.
    #[must_use]
    pub fn source_text(&self) -> String {
        self.head.source_text()
    }

    /// How far the text was checked: that of the least checked part.
    #[must_use]
    pub fn status(&self) -> Status {
        let paragraphs = self.paragraphs.iter().map(|paragraph| paragraph.status);
        let tolerances = self.tolerances.iter().filter_map(|row| row.status);
        paragraphs.chain(tolerances).fold(self.head.status, Status::max)
    }

    /// Whether it has limits of emissions, and not only tolerances of the carrier's frequency.
    #[must_use]
    pub fn has_limits(&self) -> bool {
        !self.paragraphs.is_empty()
    }

    /// Whether it says how far a carrier may lie from its assigned frequency.
    #[must_use]
    pub fn has_tolerances(&self) -> bool {
        !self.tolerances.is_empty()
    }

    /// What the rule may ask for beyond the question.
    #[must_use]
    pub fn facts(&self) -> &[Fact] {
        &self.facts
    }

    /// The fact of this name, if the rule asks for it.
    #[must_use]
    pub fn fact(&self, name: &str) -> Option<&Fact> {
        self.facts.iter().find(|fact| fact.name() == name)
    }

    /// Facts that only an exemption asks for: absent, they are not claimed, and nothing is missing.
    pub(crate) fn claims(&self) -> BTreeSet<&str> {
        let exemptions = self.paragraphs.iter().filter_map(|paragraph| paragraph.exempt.as_ref());
        let mut claims: BTreeSet<&str> = names(exemptions);
        for other in names(self.conditions().chain(self.tolerance_conditions())) {
            claims.remove(other);
        }
        claims
    }

    /// Every test on one subject, exemptions included.
    pub(crate) fn tests_on(&self, name: &str) -> Vec<&Test> {
        [Part::Limits, Part::Tolerances].into_iter().flat_map(|part| self.tests_of(part, name)).collect()
    }

    /// Every test on one subject in one part of the rule, exemptions included.
    pub(crate) fn tests_of(&self, part: Part, name: &str) -> Vec<&Test> {
        self.conditions_of(part)
            .into_iter()
            .flat_map(Condition::tests)
            .filter(|test| test.subject.goes_by(name))
            .collect()
    }

    /// Every condition of one part, exemptions included.
    pub(crate) fn conditions_of(&self, part: Part) -> Vec<&Condition> {
        let exemptions = self.paragraphs.iter().filter_map(|paragraph| paragraph.exempt.as_ref());
        match part {
            Part::Limits => self.conditions().chain(exemptions).collect(),
            Part::Tolerances => self.tolerance_conditions().collect(),
        }
    }

    fn tolerance_conditions(&self) -> impl Iterator<Item = &Condition> {
        self.tolerances.iter().flat_map(|row| {
            std::iter::once(&row.when).chain(row.interpretations.iter().map(|note| &note.when))
        })
    }

    /// The values of a fact, or of the emission frequency, that make a difference.
    pub(crate) fn classes_of(&self, part: Part, world: &World<'_>, name: &str) -> Vec<Value> {
        let words = self.fact(name).map_or(&[][..], Fact::words);
        classes(world, name, &self.tests_of(part, name), words)
    }

    /// Whether the frequency of the emission, and not only that of the carrier, has a say in the limit.
    pub(crate) fn looks_at_emission(&self) -> bool {
        !self.tests_of(Part::Limits, AT).is_empty() || self.rows().any(|row| row.limit.goes_by_offset())
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = &Row> {
        self.paragraphs.iter().flat_map(|paragraph| paragraph.body.rows())
    }

    /// Every condition but the exemptions.
    fn conditions(&self) -> impl Iterator<Item = &Condition> {
        self.paragraphs.iter().flat_map(|paragraph| {
            let rows = paragraph.body.rows().iter();
            let notes = rows.clone().flat_map(|row| &row.interpretations).chain(&paragraph.interpretations);
            std::iter::once(&paragraph.applies)
                .chain(rows.map(|row| &row.when))
                .chain(notes.map(|note| &note.when))
        })
    }
}

impl Body {
    pub(crate) fn rows(&self) -> &[Row] {
        match self {
            Self::Rows(rows) => rows,
            Self::NoLimit(_) => &[],
        }
    }
}

fn names<'r>(conditions: impl Iterator<Item = &'r Condition>) -> BTreeSet<&'r str> {
    let mut names = BTreeSet::new();
    for test in conditions.flat_map(Condition::tests) {
        match &test.subject {
            Subject::Fact(name) => drop(names.insert(name.as_str())),
            other => names.extend(other.names()),
        }
    }
    names
}
