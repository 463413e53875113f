//! What each case of a rule answers, and what is odd about that.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::{AUTHORISED_BANDWIDTH, Condition, Subject, Test, Truth};
use crate::rule::{Body, Part, Rule};
use crate::value::Kind;
use crate::world::World;

use super::grid::{Along, Grid, MOST_CASES, Point};
use super::{Flaw, Remark, found};

/// What a case answers.
#[derive(Clone, Debug, Default)]
struct Answer {
    /// Where the case stands on each axis that gaps and jumps are looked for along.
    places: Vec<f64>,
    /// The paragraph, if one applies.
    paragraph: Option<usize>,
    /// The row that answers.
    row: Option<usize>,
    /// Every row that holds, and its level in dBm or its tolerance in Hz.
    holding: Vec<(usize, f64)>,
    /// Whether the paragraph says that it has no number.
    says_none: bool,
}

impl Answer {
    const fn is_answered(&self) -> bool {
        self.row.is_some() || self.says_none
    }

    fn level(&self) -> Option<f64> {
        self.holding.first().map(|(_, level)| *level)
    }
}

/// Levels that differ by no more are the same.
const SAME_DB: f64 = 0.005;
/// A step of less is none: figures of texts are rounded.
const EVEN_DB: f64 = 0.1;

/// Everything odd about one part of a rule.
pub(super) fn at(rule: &Rule, part: Part) -> Vec<Remark> {
    let empty = match part {
        Part::Limits => rule.paragraphs.is_empty(),
        Part::Tolerances => rule.tolerances.is_empty(),
    };
    if empty {
        return Vec::new();
    }
    let grid = Grid::of(rule, part);
    if grid.cases() > MOST_CASES {
        let text =
            format!("{} cases are more than the {MOST_CASES} that are looked at: none was", grid.cases());
        return vec![found(Flaw::TooManyCases, "anywhere", text)];
    }
    let answers: Vec<Answer> =
        (0..grid.cases()).map(|number| answer(rule, part, &grid, &grid.case(number))).collect();
    let look = Look { rule, part, grid: &grid, answers: &answers };
    let mut remarks = look.rows();
    for axis in 0..grid.axes.len() {
        let along = &grid.axes[axis].along;
        if !matches!(along, Along::Fact(_, Kind::Word | Kind::Date)) {
            look.along(axis, &mut remarks);
        }
    }
    remarks
}

fn answer(rule: &Rule, part: Part, grid: &Grid, case: &[&Point]) -> Answer {
    let Some((question, facts)) = grid.ask(case) else { return Answer::default() };
    let world = World::new(rule, &question, &facts);
    let place = |along: &Along| match along {
        Along::Carrier => question.carrier().get(),
        Along::Power => question.power().get(),
        Along::At => question.emission().map_or(0.0, spurline_units::Hertz::get),
        Along::Fact(name, _) => world.figure(name).unwrap_or_default(),
    };
    let places = grid.axes.iter().map(|axis| place(&axis.along)).collect();
    let mut answer = Answer { places, ..Answer::default() };
    match part {
        Part::Limits => {
            let applies = |place: &usize| rule.paragraphs[*place].applies.truth(&world) == Truth::Holds;
            answer.paragraph = (0..rule.paragraphs.len()).find(applies);
            let Some(paragraph) = answer.paragraph.map(|place| &rule.paragraphs[place]) else {
                return answer;
            };
            answer.says_none = matches!(paragraph.body, Body::NoLimit(_));
            for (place, row) in paragraph.body.rows().iter().enumerate() {
                if row.when.truth(&world) == Truth::Holds {
                    let bound = row.limit.evaluate("", &world, &mut Vec::new());
                    answer.holding.push((place, bound.level.get()));
                }
            }
        }
        Part::Tolerances => {
            for (place, row) in rule.tolerances.iter().enumerate() {
                if row.when.truth(&world) == Truth::Holds {
                    let (hertz, _) = row.tolerance.at(question.carrier());
                    answer.holding.push((place, hertz.get()));
                }
            }
        }
    }
    answer.row = answer.holding.first().map(|(row, _)| *row);
    answer
}

struct Look<'a> {
    rule: &'a Rule,
    part: Part,
    grid: &'a Grid,
    answers: &'a [Answer],
}

impl Look<'_> {
    /// Paragraphs that are never reached, rows that never answer, and rows that disagree.
    fn rows(&self) -> Vec<Remark> {
        let mut remarks = Vec::new();
        let groups = match self.part {
            Part::Limits => {
                self.rule.paragraphs.iter().map(|paragraph| paragraph.body.rows().len()).collect()
            }
            Part::Tolerances => vec![self.rule.tolerances.len()],
        };
        for (group, count) in groups.into_iter().enumerate() {
            let reached: Vec<&Answer> = self
                .answers
                .iter()
                .filter(|answer| self.part == Part::Tolerances || answer.paragraph == Some(group))
                .collect();
            if reached.is_empty() {
                let text = "it never applies, or the paragraphs before it take everything".to_owned();
                remarks.push(self.in_group(group, found(Flaw::Unreachable, "paragraph", text)));
                continue;
            }
            for row in 0..count {
                let holds = reached.iter().any(|answer| answer.holding.iter().any(|(held, _)| *held == row));
                if !reached.iter().any(|answer| answer.row == Some(row)) {
                    let why = if holds {
                        "the rows before it take everything"
                    } else {
                        "its conditions never hold together"
                    };
                    let place = format!("row {}", row + 1);
                    remarks.push(self.in_group(group, found(Flaw::NeverAnswers, &place, why.to_owned())));
                }
            }
            remarks.extend(disagreeing(&reached).into_iter().map(|remark| self.in_group(group, remark)));
        }
        remarks
    }

    /// Gaps and jumps along one axis, each once.
    fn along(&self, axis: usize, remarks: &mut Vec<Remark>) {
        let (stride, count) = (self.grid.stride(axis), self.grid.axes[axis].points.len());
        if count < 2 {
            return;
        }
        let mut gaps: BTreeMap<(Option<usize>, String), String> = BTreeMap::new();
        let mut jumps: BTreeMap<(Option<usize>, String), (f64, f64, String)> = BTreeMap::new();
        let starts = (0..self.answers.len()).filter(|number| (number / stride) % count == 0);
        for start in starts {
            if self.moves_with(axis, start) {
                continue;
            }
            let mut line: Vec<usize> = (0..count).map(|place| start + place * stride).collect();
            line.retain(|number| !self.answers[*number].places.is_empty());
            let place = |number: &usize| self.answers[*number].places[axis];
            line.sort_by(|one, other| place(one).total_cmp(&place(other)));
            self.gaps(axis, &line, &mut gaps);
            if self.part == Part::Limits && !matches!(self.grid.axes[axis].along, Along::Fact(..)) {
                self.jumps(axis, &line, &mut jumps);
            }
        }
        for ((group, place), context) in gaps {
            let text = format!("no row answers here, but below and above{context}");
            remarks.push(self.maybe_in_group(group, found(Flaw::Gap, &place, text)));
        }
        for ((group, place), (from, to, context)) in jumps {
            let text = format!("{:.2} dB, from {from:.2} to {to:.2} dBm{context}", to - from);
            remarks.push(self.maybe_in_group(group, found(Flaw::Jump, &place, text)));
        }
    }

    /// Whether the emission of a line moves with the width that the line runs along: such a line crosses itself.
    fn moves_with(&self, axis: usize, start: usize) -> bool {
        let Along::Fact(name, _) = &self.grid.axes[axis].along else { return false };
        let case = self.grid.case(start);
        name == AUTHORISED_BANDWIDTH && case.iter().any(|point| point.subject == Some(Subject::OffsetShare))
    }

    fn gaps(&self, axis: usize, line: &[usize], gaps: &mut BTreeMap<(Option<usize>, String), String>) {
        let is_answered = |number: &usize| self.answers[*number].is_answered();
        let mut before: Option<usize> = None;
        let mut run: Vec<usize> = Vec::new();
        for number in line {
            if !is_answered(number) {
                run.push(*number);
                continue;
            }
            if let (Some(before), Some(first), Some(last)) = (before, run.first(), run.last()) {
                let labels = [first, last].map(|number| self.point(axis, *number).label.clone());
                let place = if labels[0] == labels[1] {
                    labels[0].clone()
                } else {
                    let (_, end) = labels[1].split_once(' ').unwrap_or(("", &labels[1]));
                    format!("{}..{end}", labels[0])
                };
                let (one, other) = (self.answers[before].paragraph, self.answers[*number].paragraph);
                let group = if one == other { one } else { None };
                gaps.entry((group, place)).or_insert_with(|| self.context(axis, *number));
            }
            run.clear();
            before = Some(*number);
        }
    }

    fn jumps(
        &self,
        axis: usize,
        line: &[usize],
        jumps: &mut BTreeMap<(Option<usize>, String), (f64, f64, String)>,
    ) {
        // A point that no boundary gives may lie between the sides of one.
        let is_bound = |number: &usize| !self.point(axis, *number).label.is_empty();
        let line: Vec<usize> = line.iter().copied().filter(is_bound).collect();
        for pair in line.windows(2) {
            let [one, other] = [pair[0], pair[1]];
            let (below, above) = (&self.answers[one], &self.answers[other]);
            let (Some(from), Some(to)) = (below.level(), above.level()) else { continue };
            let label = &self.point(axis, other).label;
            let beside = self.point(axis, one).label == *label;
            if !beside || (to - from).abs() <= EVEN_DB {
                continue;
            }
            let group = if below.paragraph == above.paragraph { below.paragraph } else { None };
            let widest = jumps.entry((group, label.clone())).or_insert((0.0, 0.0, String::new()));
            if (to - from).abs() > (widest.1 - widest.0).abs() + SAME_DB {
                *widest = (from, to, self.context(axis, other));
            }
        }
    }

    fn point(&self, axis: usize, number: usize) -> &Point {
        self.grid.case(number)[axis]
    }

    /// The words that a case goes by besides the axis, so that a person can ask the same.
    fn context(&self, axis: usize, number: usize) -> String {
        let case = self.grid.case(number);
        let tests = self.tests_behind(number);
        let matters = |place: usize| {
            let along = &self.grid.axes[place].along;
            place != axis && tests.iter().any(|test| along.is_tested_by(test))
        };
        let others =
            case.iter().enumerate().filter(|(place, point)| matters(*place) && !point.label.is_empty());
        let side = |point: &Point| match point.side {
            side if side < 0.0 => "just below ",
            side if side > 0.0 => "just above ",
            _ => "",
        };
        let words: Vec<String> = others.map(|(_, point)| format!("{}{}", side(point), point.label)).collect();
        if words.is_empty() { String::new() } else { format!(", with {}", words.join(", ")) }
    }

    /// The tests that made a case answer as it does.
    fn tests_behind(&self, number: usize) -> Vec<&Test> {
        let answer = &self.answers[number];
        let paragraph = answer.paragraph.map(|place| &self.rule.paragraphs[place]);
        let applies = paragraph.map(|paragraph| &paragraph.applies);
        let when = answer.row.map(|row| match paragraph {
            Some(paragraph) => &paragraph.body.rows()[row].when,
            None => &self.rule.tolerances[row].when,
        });
        applies.into_iter().chain(when).flat_map(Condition::tests).collect()
    }

    fn in_group(&self, group: usize, remark: Remark) -> Remark {
        self.maybe_in_group(Some(group), remark)
    }

    fn maybe_in_group(&self, group: Option<usize>, remark: Remark) -> Remark {
        let paragraph = group.and_then(|group| self.rule.paragraphs.get(group));
        let paragraph = paragraph.filter(|_| self.part == Part::Limits).map(|found| found.name.clone());
        Remark { paragraph, ..remark }
    }
}

/// Pairs of rows that hold at once with different numbers, while each also holds without the other.
fn disagreeing(reached: &[&Answer]) -> Vec<Remark> {
    let mut pairs: BTreeSet<(usize, usize)> = BTreeSet::new();
    for answer in reached {
        for (place, (one, level)) in answer.holding.iter().enumerate() {
            let differing =
                answer.holding[place + 1..].iter().filter(|(_, other)| (other - level).abs() > SAME_DB);
            pairs.extend(differing.map(|(other, _)| (*one, *other)));
        }
    }
    let alone = |row: usize, without: usize| {
        let holds = |answer: &&&Answer, row: usize| answer.holding.iter().any(|(held, _)| *held == row);
        reached.iter().any(|answer| holds(&answer, row) && !holds(&answer, without))
    };
    pairs.retain(|(one, other)| alone(*one, *other) && alone(*other, *one));
    let remark = |(one, other): &(usize, usize)| {
        let (one, other) = (one + 1, other + 1);
        let text = "both hold at once and differ, and neither is the exception of the other".to_owned();
        found(Flaw::Overlap, &format!("rows {one} and {other}"), text)
    };
    pairs.iter().map(remark).collect()
}
