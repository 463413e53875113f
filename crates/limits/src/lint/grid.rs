//! Every case that a part of a rule can tell apart: boundaries, both sides of each, and every word.

use spurline_units::{Hertz, Watts};

use crate::condition::{AT, AUTHORISED_BANDWIDTH, Subject, Test};
use crate::fact::{Fact, Facts};
use crate::question::Question;
use crate::rule::{Part, Row, Rule};
use crate::value::{Kind, Value};

/// Beyond this a file is looked at in part only.
pub(super) const MOST_CASES: usize = 200_000;

/// How far to both sides of a boundary one looks: above rounding, and no boundary of a real rule lies within.
const BESIDE_HZ: f64 = 1.0;
const BESIDE_SHARE: f64 = 1e-6;

/// What stands for a value that no boundary gives: any will do, as nothing turns on it.
const SOME_CARRIER: f64 = 100e6;
const SOME_POWER: f64 = 1.0;
/// Formulas of the power cross each other somewhere: one power alone would miss steps that others show.
const MORE_POWERS: [f64; 2] = [10.0, 100.0];
const SOME_WIDTH: f64 = 20e3;
const SOME_OFFSET: f64 = 10e3;

/// What an axis runs along.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Along {
    Carrier,
    Power,
    At,
    Fact(String, Kind),
}

/// One point of an axis: a boundary and a side of it, or a word.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Point {
    /// In the words of a rule file, for example `offset 12.5 kHz`; empty where no boundary gives it.
    pub(super) label: String,
    pub(super) subject: Option<Subject>,
    pub(super) value: Value,
    /// Below it, at it or above it.
    pub(super) side: f64,
}

/// One axis and its points, those of one boundary together.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    pub(super) along: Along,
    pub(super) points: Vec<Point>,
}

/// All axes of one part of a rule.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    pub(super) axes: Vec<Axis>,
}

impl Grid {
    pub(super) fn of(rule: &Rule, part: Part) -> Self {
        let conditions = match part {
            Part::Limits => {
                let applies = rule.paragraphs.iter().map(|paragraph| &paragraph.applies);
                applies.chain(rule.rows().map(|row| &row.when)).collect::<Vec<_>>()
            }
            Part::Tolerances => rule.tolerances.iter().map(|row| &row.when).collect(),
        };
        let tests: Vec<&Test> = conditions.into_iter().flat_map(|condition| condition.tests()).collect();
        let on = |wanted: fn(&Subject) -> bool| -> Vec<&Test> {
            tests.iter().copied().filter(|test| wanted(&test.subject)).collect()
        };
        let mut axes = vec![
            axis(
                Along::Carrier,
                &on(|subject| *subject == Subject::Carrier),
                Value::Frequency(Hertz::new(SOME_CARRIER)),
            ),
            axis(
                Along::Power,
                &on(|subject| *subject == Subject::Power),
                Value::Power(Watts::new(SOME_POWER)),
            ),
        ];
        let grows = |row: &Row| row.limit.goes_by_power();
        if part == Part::Limits && rule.rows().any(grows) {
            let bare = axes[1].points.iter().all(|point| !point.label.is_empty()).then_some(SOME_POWER);
            let more = bare.into_iter().chain(MORE_POWERS).map(|watts| Point {
                label: String::new(),
                subject: None,
                value: Value::Power(Watts::new(watts)),
                side: 0.0,
            });
            axes[1].points.extend(more);
        }
        for fact in rule.facts() {
            let own: Vec<&Test> =
                tests.iter().copied().filter(|test| test.subject.fact() == Some(fact.name())).collect();
            axes.extend(fact_axis(fact, &own, &tests));
        }
        let emissions = on(|subject| subject.goes_by(AT));
        let by_offset = part == Part::Limits && rule.rows().any(|row| row.limit.goes_by_offset());
        if !emissions.is_empty() || by_offset {
            let some = Point {
                label: String::new(),
                subject: Some(Subject::Offset),
                value: Value::Frequency(Hertz::new(SOME_OFFSET)),
                side: 0.0,
            };
            let mut axis = axis(Along::At, &emissions, Value::Frequency(Hertz::new(SOME_OFFSET)));
            if emissions.is_empty() {
                axis.points = vec![some];
            }
            axes.push(axis);
        }
        Self { axes }
    }

    pub(super) fn cases(&self) -> usize {
        self.axes.iter().fold(1usize, |cases, axis| cases.saturating_mul(axis.points.len()))
    }

    /// The points of a case, one an axis; the last axis runs fastest.
    pub(super) fn case(&self, mut number: usize) -> Vec<&Point> {
        let mut points: Vec<&Point> = Vec::new();
        for axis in self.axes.iter().rev() {
            points.push(&axis.points[number % axis.points.len()]);
            number /= axis.points.len();
        }
        points.reverse();
        points
    }

    /// How far apart the cases of neighbouring points of an axis are.
    pub(super) fn stride(&self, axis: usize) -> usize {
        self.axes[axis + 1..].iter().map(|axis| axis.points.len()).product()
    }

    /// What is asked in a case, and what is known in it.
    pub(super) fn ask(&self, case: &[&Point]) -> Option<(Question, Facts)> {
        let point = |wanted: &Along| {
            self.axes.iter().zip(case).find(|(axis, _)| axis.along == *wanted).map(|(_, point)| *point)
        };
        let Value::Frequency(carrier) = point(&Along::Carrier)?.beside() else { return None };
        let Value::Power(power) = point(&Along::Power)?.beside() else { return None };
        let mut facts = Facts::default();
        let mut width = Hertz::new(SOME_WIDTH);
        for (axis, point) in self.axes.iter().zip(case) {
            if let Along::Fact(name, _) = &axis.along {
                let value = point.beside();
                if let (Value::Frequency(stated), true) = (&value, name == AUTHORISED_BANDWIDTH) {
                    width = *stated;
                }
                facts.suppose(name, value);
            }
        }
        let question = Question::new(carrier, power).ok()?;
        let question = match point(&Along::At) {
            Some(point) => question.at(point.emission(carrier, width)?),
            None => question,
        };
        Some((question, facts))
    }
}

impl Along {
    /// Whether a test looks at this.
    pub(super) fn is_tested_by(&self, test: &Test) -> bool {
        match self {
            Self::Carrier => test.subject == Subject::Carrier,
            Self::Power => test.subject == Subject::Power,
            Self::At => test.subject.goes_by(AT),
            Self::Fact(name, _) => test.subject.goes_by(name),
        }
    }
}

impl Point {
    /// The value itself, or the one just beside it.
    fn beside(&self) -> Value {
        let factor = 1.0 + self.side * BESIDE_SHARE;
        match &self.value {
            Value::Frequency(frequency) => Value::Frequency(*frequency * factor),
            Value::Power(power) => Value::Power(Watts::new(power.get() * factor)),
            Value::Date { first, .. } => {
                let day = if self.side < 0.0 {
                    first.yesterday()
                } else if self.side > 0.0 {
                    first.tomorrow()
                } else {
                    Ok(*first)
                };
                Value::day(day.unwrap_or(*first))
            }
            other => other.clone(),
        }
    }

    /// The frequency of the emission that stands so to the carrier.
    fn emission(&self, carrier: Hertz, width: Hertz) -> Option<Hertz> {
        let at = match (self.subject.as_ref()?, &self.value) {
            (Subject::Emission, Value::Frequency(at)) => *at,
            (Subject::Offset, Value::Frequency(offset)) => carrier + *offset,
            (Subject::OffsetShare, Value::Share(share)) => carrier + width * (share / 100.0),
            (Subject::Multiple, Value::Multiple(multiple)) => carrier * *multiple,
            _ => return None,
        };
        let at = at + Hertz::new(self.side * BESIDE_HZ);
        (at.get() > 0.0).then_some(at)
    }
}

fn axis(along: Along, tests: &[&Test], otherwise: Value) -> Axis {
    let mut bounds: Vec<(Subject, Value)> = Vec::new();
    for test in tests {
        let bound = test.bound().map(|bound| (test.subject.clone(), bound.clone()));
        bounds.extend(bound.filter(|bound| !bounds.contains(bound)));
    }
    let label = |(subject, bound): &(Subject, Value)| match bound {
        Value::Multiple(multiple) => format!("{} {multiple}", subject.key()),
        bound => format!("{} {bound}", subject.key()),
    };
    let mut points: Vec<Point> = Vec::new();
    for bound in &bounds {
        for side in [-1.0, 0.0, 1.0] {
            let (subject, value) = bound.clone();
            points.push(Point { label: label(bound), subject: Some(subject), value, side });
        }
    }
    if points.is_empty() {
        points.push(Point { label: String::new(), subject: None, value: otherwise, side: 0.0 });
    }
    Axis { along, points }
}

/// The axis of a fact that something turns on.
fn fact_axis(fact: &Fact, own: &[&Test], all: &[&Test]) -> Option<Axis> {
    let along = Along::Fact(fact.name().to_owned(), fact.kind());
    let some_width = Value::Frequency(Hertz::new(SOME_WIDTH));
    if fact.name() == AUTHORISED_BANDWIDTH && all.iter().any(|test| test.subject == Subject::OffsetShare) {
        let mut axis = axis(along, own, some_width.clone());
        if !own.is_empty() {
            axis.points.push(Point { label: String::new(), subject: None, value: some_width, side: 0.0 });
        }
        return Some(axis);
    }
    if own.is_empty() {
        return None;
    }
    if fact.kind() != Kind::Word {
        return Some(axis(along, own, some_width));
    }
    let word = |word: &String| Point {
        label: format!("{} {word}", fact.name()),
        subject: None,
        value: Value::Word(word.clone()),
        side: 0.0,
    };
    Some(Axis { along, points: fact.words().iter().map(word).collect() })
}
