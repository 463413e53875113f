//! From a question to a finding: paragraph, exemption, row, arithmetic, each with its line.

use std::collections::BTreeSet;

use crate::condition::{AT, Condition, Truth};
use crate::explore::{Case, Explorer, Missing};
use crate::fact::Facts;
use crate::finding::{BranchId, Finding, Status, Verdict};
use crate::question::Question;
use crate::rule::{Body, Interpretation, Paragraph, Part, Row, Rule};
use crate::value::shown;
use crate::world::World;

impl Rule {
    /// The limit for emissions of one carrier, and how it follows.
    #[must_use]
    pub fn limit(&self, question: &Question, facts: &Facts) -> Finding {
        let world = World::new(self, question, facts);
        match self.judge(&world) {
            Ok(finding) => finding,
            Err(Missing(name)) => self.undetermined(&world, name),
        }
    }

    fn judge(&self, world: &World<'_>) -> Result<Finding, Missing> {
        let mut lines = self.opening(world);
        for paragraph in &self.paragraphs {
            let applies = holds(&paragraph.applies, world)?;
            let why = because(&paragraph.applies, world);
            if applies {
                lines.push(format!("{} applies{why}", paragraph.name));
                return self.judge_paragraph(paragraph, world, lines);
            }
            lines.push(format!("{} does not apply{why}", paragraph.name));
        }
        lines.push("no numeric limit: no paragraph of this rule applies".to_owned());
        let (source, status) = (self.head.source.clone(), self.head.status);
        let branch = BranchId::default();
        let verdict = Verdict::NoLimit;
        Ok(Finding { verdict, derivation: lines, source, status, reference_bandwidth: None, branch })
    }

    pub(crate) fn opening(&self, world: &World<'_>) -> Vec<String> {
        let question = &world.question;
        let mut lines = vec![
            self.head.opening("rule"),
            format!(
                "carrier {}, mean power {} = {}",
                question.carrier(),
                shown(question.power()),
                question.power().to_dbm()
            ),
        ];
        if let Some(emission) = question.emission().filter(|_| !self.looks_at_emission()) {
            lines.push(format!("emission at {emission}: this rule picks the limit by the carrier alone"));
        }
        lines.extend(world.remarks.iter().cloned());
        lines
    }

    fn judge_paragraph(
        &self,
        paragraph: &Paragraph,
        world: &World<'_>,
        mut lines: Vec<String>,
    ) -> Result<Finding, Missing> {
        if let Some(caveat) = paragraph.status.caveat() {
            lines.push(format!("{caveat}: {} is {}", paragraph.source, paragraph.status));
        }
        interpret(&paragraph.interpretations, world, &mut lines)?;
        let mut branch = BranchId { paragraph: Some(paragraph.name.clone()), row: None, term: None };
        let mut reference_bandwidth = None;
        let verdict = if exempt(paragraph, world, &mut lines)? {
            Verdict::Exempt
        } else {
            match &paragraph.body {
                Body::NoLimit(why) => {
                    lines.push(format!("no numeric limit in this rule: {why}"));
                    Verdict::NoLimit
                }
                Body::Rows(rows) => match choose(rows, world, &mut lines)? {
                    None => Verdict::NoLimit,
                    Some((number, row)) => {
                        let (verdict, term) = arithmetic(row, &paragraph.reference_power, world, &mut lines)?;
                        branch = BranchId { row: Some(number), term, ..branch };
                        let bandwidth =
                            row.reference_bandwidth.as_ref().unwrap_or(&paragraph.reference_bandwidth);
                        let (bandwidth, sentence) = bandwidth.at(world.question.emission());
                        reference_bandwidth = bandwidth;
                        lines.push(sentence);
                        verdict
                    }
                },
            }
        };
        let (source, status) = (paragraph.source.clone(), self.head.status.max(paragraph.status));
        Ok(Finding { verdict, derivation: lines, source, status, reference_bandwidth, branch })
    }

    /// Looks at every case of what is missing and keeps each branch once.
    fn undetermined(&self, world: &World<'_>, name: String) -> Finding {
        let explorer = Explorer {
            rule: self,
            part: Part::Limits,
            judge: &|world| self.judge(world),
            same: |one, other| one.branch == other.branch && one.verdict == other.verdict,
        };
        let (missing, possible) = explorer.explore(world, name);
        let mut derivation = self.opening(world);
        derivation.extend(self.asked(&missing));
        for Case { supposing, finding } in &possible {
            let outcome = match finding.verdict {
                Verdict::Limit { level, relative, .. } => format!("{level}, {relative} below the mean power"),
                Verdict::Exempt => "exempt".to_owned(),
                Verdict::NoLimit | Verdict::Undetermined { .. } => "no limit".to_owned(),
            };
            derivation.push(format!("if {}: {}: {outcome}", supposing.join(", "), finding.branch));
        }
        let possible: Vec<Finding> = possible.into_iter().map(|case| case.finding).collect();
        let sources: BTreeSet<&str> = possible.iter().map(|finding| finding.source.as_str()).collect();
        let source = sources.into_iter().collect::<Vec<_>>().join("; ");
        let status = possible.iter().map(|finding| finding.status).fold(self.head.status, Status::max);
        let bandwidth = possible.first().and_then(|finding| finding.reference_bandwidth);
        let same = possible.iter().all(|finding| finding.reference_bandwidth == bandwidth);
        Finding {
            verdict: Verdict::Undetermined { missing: missing.into_iter().collect(), possible },
            derivation,
            source,
            status,
            reference_bandwidth: bandwidth.filter(|_| same),
            branch: BranchId::default(),
        }
    }

    /// What each name that is missing stands for, a line a name.
    pub(crate) fn asked(&self, missing: &BTreeSet<String>) -> Vec<String> {
        let line = |name: &String| {
            let meaning = self.fact(name).map_or("the frequency of the emission", |fact| fact.meaning());
            format!("`{name}` is needed and not given: {meaning}")
        };
        missing.iter().map(line).collect()
    }
}

/// Whether a condition holds, or what must be known first.
pub(crate) fn holds(condition: &Condition, world: &World<'_>) -> Result<bool, Missing> {
    match condition.truth(world) {
        Truth::Holds => Ok(true),
        Truth::Fails => Ok(false),
        Truth::Missing(name) => Err(Missing(name)),
    }
}

/// Why a condition holds or fails, behind a colon; nothing if it always holds.
pub(crate) fn because(condition: &Condition, world: &World<'_>) -> String {
    let reasons = condition.say(world);
    if reasons.is_empty() { String::new() } else { format!(": {reasons}") }
}

/// Adds how a text is read here, where that matters.
pub(crate) fn interpret(
    notes: &[Interpretation],
    world: &World<'_>,
    lines: &mut Vec<String>,
) -> Result<(), Missing> {
    for note in notes {
        if holds(&note.when, world)? {
            lines.push(format!("interpretation: {}", note.text));
        }
    }
    Ok(())
}

fn exempt(paragraph: &Paragraph, world: &World<'_>, lines: &mut Vec<String>) -> Result<bool, Missing> {
    let Some(condition) = &paragraph.exempt else { return Ok(false) };
    let exempt = holds(condition, world)?;
    let tests = condition.tests();
    let unclaimed: Vec<_> = tests.iter().filter_map(|test| test.subject.fact()).collect();
    lines.push(if exempt {
        format!("exempt{}", because(condition, world))
    } else if !unclaimed.is_empty() && unclaimed.iter().all(|name| world.is_unclaimed(name)) {
        format!("exemption not claimed: `{}` not given", unclaimed.join("`, `"))
    } else {
        format!("not exempt{}", because(condition, world))
    });
    Ok(exempt)
}

fn choose<'r>(
    rows: &'r [Row],
    world: &World<'_>,
    lines: &mut Vec<String>,
) -> Result<Option<(usize, &'r Row)>, Missing> {
    for (index, row) in rows.iter().enumerate() {
        if holds(&row.when, world)? {
            let why = because(&row.when, world);
            let why = if why.is_empty() && index > 0 { ": no row before it applies".to_owned() } else { why };
            lines.push(format!("row {}{why}", index + 1));
            lines.push(format!("demand: {}", row.says));
            return Ok(Some((index + 1, row)));
        }
        lines.push(format!("not row {}{}", index + 1, because(&row.when, world)));
    }
    lines.push("no numeric limit: no row of this paragraph applies".to_owned());
    Ok(None)
}

fn arithmetic(
    row: &Row,
    reference: &str,
    world: &World<'_>,
    lines: &mut Vec<String>,
) -> Result<(Verdict, Option<usize>), Missing> {
    interpret(&row.interpretations, world, lines)?;
    if row.limit.goes_by_offset() && world.offset().is_none() {
        return Err(Missing(AT.to_owned()));
    }
    let bound = row.limit.evaluate(reference, world, lines);
    let level = bound.level;
    let relative = world.question.power().to_dbm() - level;
    lines.push(format!("limit {level}, {relative} below {reference}: {}", bound.say()));
    let term = bound.terms.iter().map(|term| term.number).min();
    Ok((Verdict::Limit { level, relative, binding: bound.binding() }, term))
}
