//! What a reader of a batch should know before its figures: what the runs do not have in common.

use std::collections::BTreeMap;

use spurline_record::RunState;

use super::{FEWEST, Row};
use crate::paragraph::counted;
use crate::view::RunView;

pub(super) fn notes(runs: &[RunView<'_>], plans: &[String], units: usize, readings: &[Row]) -> Vec<String> {
    let mut notes = Vec::new();
    if plans.len() > 1 {
        notes.push(format!("the runs are of several plans: {}", plans.join(", ")));
    }
    notes.extend(mixed_rules(runs, readings));
    notes.extend(mixed_firmwares(runs));
    if runs.len() > units {
        notes.push(format!(
            "{} of {}: some units are in it more than once",
            counted(runs.len(), "run"),
            counted(units, "unit")
        ));
    }
    if units < FEWEST {
        notes.push(format!("of fewer than {FEWEST} units none is called unlike the others"));
    }
    for run in runs.iter().filter(|run| run.state != RunState::Finished) {
        let (id, serial) = (&run.header.id, &run.header.unit.serial);
        notes.push(format!("run {id} of unit {serial} did not go to its end: {}", run.state.word()));
    }
    if runs.iter().any(|run| run.header.simulated.is_some()) {
        notes.push("simulated benches: no evidence about real transmitters".to_owned());
    }
    notes
}

/// What runs of several firmwares have in common may be that: whoever reads a spread of theirs must know.
fn mixed_firmwares(runs: &[RunView<'_>]) -> Option<String> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for run in runs {
        *counts.entry(run.header.unit.firmware.as_str()).or_default() += 1;
    }
    let named = |(firmware, count): (&&str, &usize)| {
        let name = if firmware.is_empty() { "not said" } else { firmware };
        format!("{name} ({})", counted(*count, "run"))
    };
    (counts.len() > 1).then(|| {
        let all: Vec<String> = counts.iter().map(named).collect();
        format!(
            "the runs are of several firmwares, {}: what differs may differ by that, and not from unit to unit",
            all.join(", ")
        )
    })
}

/// Margins to other limits are no spread of one thing: which rules there are stands above all of them.
fn mixed_rules(runs: &[RunView<'_>], readings: &[Row]) -> Option<String> {
    let mut judged: BTreeMap<(&str, String), usize> = BTreeMap::new();
    for run in runs {
        *judged.entry((run.header.rule.as_str(), run.header.decision_words())).or_default() += 1;
    }
    let differing = readings.iter().filter(|row| row.limits_differ).count();
    let of = format!("{differing} of {}", counted(readings.len(), "reading"));
    let first = runs.first().map(|run| run.header);
    let same_rule = judged.keys().all(|(rule, _)| first.is_some_and(|first| first.rule == *rule));
    let same_decision =
        judged.keys().all(|(_, how)| first.is_some_and(|first| first.decision_words() == *how));
    let named = judged.iter().map(|((rule, decision), count)| {
        let runs = counted(*count, "run");
        match (same_rule, same_decision) {
            (_, true) => format!("{rule} ({runs})"),
            (true, false) => format!("{decision} ({runs})"),
            (false, false) => format!("{rule}, {decision} ({runs})"),
        }
    });
    let named = named.collect::<Vec<_>>().join("; ");
    match (judged.len() > 1, same_rule) {
        (true, false) => Some(format!(
            "the runs were judged by different rules: {named}. Limits differ at {of}: each margin is to the limit of its own run"
        )),
        (true, true) => Some(format!(
            "the runs were decided differently: {named}. Limits differ at {of}: each margin is to the limit of its own run"
        )),
        (false, _) if differing > 0 => Some(format!(
            "the runs were judged with different limits at {of}, by one rule: each margin is to the limit of its own run"
        )),
        (false, _) => None,
    }
}
