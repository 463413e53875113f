//! What in a rule file looks like a slip: gaps, rows that never answer, rows that disagree, jumps, facts nobody uses.
//!
//! Published rules do have gaps and steps. A file says so under `expected`, each with its reason, and what is said there
//! that is not found is a slip as well.

mod grid;
mod look;

use std::fmt;

use crate::condition::Subject;
use crate::expression::{Expression, Term};
use crate::rule::{Part, Rule};

/// What kind of thing was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flaw {
    /// No row answers between two that do.
    Gap,
    /// The limit moves by a step.
    Jump,
    /// Two rows hold at once and differ, and neither is the exception of the other.
    Overlap,
    /// A row that can never hold, or that earlier rows leave nothing to.
    NeverAnswers,
    /// A paragraph that is never reached.
    Unreachable,
    /// A fact that is declared and that nothing looks at.
    UnusedFact,
    /// No edition is named.
    Edition,
    /// The file expects something that is not there.
    Stale,
    /// There are more cases than were looked at.
    TooManyCases,
}

impl Flaw {
    /// The kinds that a file may expect, by their words.
    pub(crate) const WORDS: &'static [(&'static str, Self)] = &[
        ("gap", Self::Gap),
        ("jump", Self::Jump),
        ("overlap", Self::Overlap),
        ("never-answers", Self::NeverAnswers),
        ("unreachable", Self::Unreachable),
        ("unused-fact", Self::UnusedFact),
        ("edition", Self::Edition),
    ];
}

impl fmt::Display for Flaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = Self::WORDS.iter().find(|(_, flaw)| flaw == self).map(|(word, _)| *word);
        f.write_str(known.unwrap_or(match self {
            Self::TooManyCases => "too-many-cases",
            _ => "stale",
        }))
    }
}

/// Something that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// What kind.
    pub flaw: Flaw,
    /// The paragraph, as the file names it; absent where it is about the whole rule or its tolerances.
    pub paragraph: Option<String>,
    /// Where, in the words that `expected` uses, for example `offset 12.5 kHz`.
    pub place: String,
    /// What is there, for a person.
    pub text: String,
    /// Why it is meant so, where the file says that it is.
    pub because: Option<String>,
}

/// What a file says is meant so.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Expected {
    pub(crate) flaw: Flaw,
    pub(crate) paragraph: Option<String>,
    /// The places; all of them if there are none.
    pub(crate) at: Vec<String>,
    pub(crate) because: String,
}

impl Expected {
    fn covers(&self, remark: &Remark) -> bool {
        let in_paragraph = self.paragraph.is_none() || self.paragraph == remark.paragraph;
        self.flaw == remark.flaw && in_paragraph && (self.at.is_empty() || self.at.contains(&remark.place))
    }
}

impl Rule {
    /// Everything in the rule that looks like a slip; what the file expects has its reason with it.
    #[must_use]
    pub fn lint(&self) -> Vec<Remark> {
        let mut remarks = self.lint_head();
        for part in [Part::Limits, Part::Tolerances] {
            remarks.extend(look::at(self, part));
        }
        for remark in &mut remarks {
            let covering = self.expected.iter().find(|expected| expected.covers(remark));
            remark.because = covering.map(|expected| expected.because.clone());
        }
        let stale: Vec<Remark> =
            self.expected.iter().flat_map(|expected| stale(expected, &remarks)).collect();
        remarks.extend(stale);
        remarks
    }

    fn lint_head(&self) -> Vec<Remark> {
        let mut remarks = Vec::new();
        let digits = self.head.edition.split(|c: char| !c.is_ascii_digit());
        if !digits.into_iter().any(|run| run.len() == 4) {
            remarks.push(found(
                Flaw::Edition,
                "edition",
                format!("`{}` names no edition by its year", self.head.edition),
            ));
        }
        for fact in self.facts.iter().filter(|fact| !self.uses(fact.name())) {
            let text = format!("`{}` is declared, and no condition or formula looks at it", fact.name());
            remarks.push(found(Flaw::UnusedFact, fact.name(), text));
        }
        remarks
    }

    fn uses(&self, name: &str) -> bool {
        let formulas = |expression: &Expression| grows_with(expression, name);
        self.tests_on(name).iter().any(|test| match &test.subject {
            Subject::Fact(fact) => fact == name,
            _ => true,
        }) || self.rows().any(|row| formulas(&row.limit))
    }
}

fn grows_with(expression: &Expression, name: &str) -> bool {
    match expression {
        Expression::Term { term: Term::Below(attenuation), .. } => {
            attenuation.growth().is_some_and(|growth| growth.of == name)
        }
        Expression::Term { term: Term::Absolute { .. }, .. } => false,
        Expression::Strictest(parts) | Expression::Loosest(parts) => {
            parts.iter().any(|part| grows_with(part, name))
        }
    }
}

/// The places that a file expects something at and where nothing was found.
fn stale(expected: &Expected, remarks: &[Remark]) -> Vec<Remark> {
    let covered = |at: &[String]| {
        let one = Expected { at: at.to_vec(), ..expected.clone() };
        remarks.iter().any(|remark| one.covers(remark))
    };
    let remark = |place: &str| {
        let text = format!("the file expects `{}` here, and there is none", expected.flaw);
        Remark { paragraph: expected.paragraph.clone(), ..found(Flaw::Stale, place, text) }
    };
    if expected.at.is_empty() {
        let nowhere = !covered(&[]);
        return nowhere.then(|| remark("anywhere")).into_iter().collect();
    }
    let places = expected.at.iter().filter(|place| !covered(std::slice::from_ref(*place)));
    places.map(|place| remark(place)).collect()
}

fn found(flaw: Flaw, place: &str, text: String) -> Remark {
    Remark { flaw, paragraph: None, place: place.to_owned(), text, because: None }
}

#[cfg(test)]
mod tests;
