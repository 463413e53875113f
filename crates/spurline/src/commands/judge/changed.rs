//! Which readings a verdict has otherwise than the run.

use serde_json::{Value, json};
use spurline_record::{Limit, Quantity, Reading, Verdict};

use crate::talk::{counted, wrapped};

/// How a figure of a reading is shown.
type Shown = fn(&Reading) -> String;

/// A reading that came out otherwise.
#[derive(Clone, Debug)]
pub(crate) struct Change {
    was: Reading,
    now: Reading,
    from: &'static str,
}

/// Figures that are nearer to each other than this are the same: they are the same sums in another order.
const SAME: f64 = 1e-9;

/// The readings that are not as they were, in their order.
pub(crate) fn changes(recorded: &[Reading], verdict: &Verdict) -> Vec<Change> {
    let pairs = recorded.iter().filter_map(|was| {
        let now = verdict.readings.iter().find(|now| now.reading.ordinal == was.ordinal)?;
        Some((was, now))
    });
    pairs
        .filter(|(was, now)| !same(was, &now.reading))
        .map(|(was, now)| Change { was: bare(was), now: bare(&now.reading), from: now.from.word() })
        .collect()
}

fn bare(reading: &Reading) -> Reading {
    Reading { acquisitions: Vec::new(), meter: Vec::new(), ..reading.clone() }
}

fn same(one: &Reading, other: &Reading) -> bool {
    let near = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= SAME * one.abs().max(1.0),
        (None, None) => true,
        _ => false,
    };
    let figure = |reading: &Reading| reading.figure.map(|figure| figure.value);
    let bound = |reading: &Reading| reading.figure.is_some_and(|figure| figure.bound);
    let expanded = |reading: &Reading| reading.budget.as_ref().map(|budget| budget.expanded);
    let code = |reading: &Reading| reading.reason.as_ref().map(|reason| reason.code);
    let (limits, others) = (limits(one), limits(other));
    one.outcome == other.outcome
        && code(one) == code(other)
        && bound(one) == bound(other)
        && near(figure(one), figure(other))
        && near(expanded(one), expanded(other))
        && limits.len() == others.len()
        && limits.iter().zip(&others).all(|(one, other)| near(*one, *other))
}

fn limits(reading: &Reading) -> Vec<Option<f64>> {
    match &reading.limit {
        None => Vec::new(),
        Some(Limit::Upper { level, .. }) => vec![Some(level.get())],
        Some(Limit::Window { low, high }) => vec![Some(*low), Some(*high)],
        Some(Limit::Several(levels)) => levels.iter().map(|level| Some(level.get())).collect(),
        Some(Limit::Between { low, high, .. }) => vec![*low, *high],
    }
}

/// The changes for people.
pub(crate) fn as_text(changes: &[Change], verdict: &Verdict) -> String {
    let all = counted(verdict.readings.len(), "reading");
    if changes.is_empty() {
        return format!("{all}, none of them changed\n");
    }
    let mut text = format!("{} of {all} changed\n", changes.len());
    let other_outcome = |change: &&Change| change.was.outcome != change.now.outcome;
    let first = changes.iter().filter(other_outcome);
    let then = changes.iter().filter(|change| !other_outcome(change));
    for Change { was, now, from } in first.chain(then) {
        let scope = &was.scope;
        let mut words = format!(
            "{} {}, {} {}: {}",
            was.ordinal,
            was.running_title(),
            scope.channel,
            scope.power_setting,
            arrow(&was.outcome.to_string(), &now.outcome.to_string())
        );
        let shown: [(&str, Shown); 3] = [
            ("level", |reading| crate::table::figure(reading, true)),
            ("limit", crate::table::limit),
            ("U", expanded),
        ];
        for (what, show) in shown {
            let (old, new) = (show(was), show(now));
            if old != new {
                words.push_str(&format!("; {what} {}", arrow(&old, &new)));
            }
        }
        if let Some(reason) = now.reason.as_ref().filter(|_| now.reason != was.reason) {
            words.push_str(&format!("; {}", reason.text));
        }
        if *from == "corrected" {
            words.push_str(how_corrected(was, now));
        }
        text.push_str(&format!("{}\n", wrapped(&format!("  {words}"), 4)));
    }
    text
}

/// What a reading that was not judged from its raw looks rests on.
fn how_corrected(was: &Reading, now: &Reading) -> &'static str {
    let level = |reading: &Reading| reading.level().map(spurline_units::Dbm::get);
    if was.quantity == Quantity::Search {
        "; its sweeps were worked through anew, what closer looks showed is as the run told it"
    } else if level(was) != level(now) || was.budget != now.budget {
        "; by its recorded figure, corrected for what was replaced"
    } else {
        "; by its recorded figure"
    }
}

fn expanded(reading: &Reading) -> String {
    reading
        .budget
        .as_ref()
        .map_or_else(|| "-".to_owned(), |budget| format!("{:.2} {}", budget.expanded, budget.unit.symbol()))
}

fn arrow(old: &str, new: &str) -> String {
    if old == new { old.to_owned() } else { format!("{old} -> {new}") }
}

/// One of them for programs.
pub(crate) fn as_json(change: &Change) -> Value {
    let Change { was, now, from } = change;
    let figure = |reading: &Reading| reading.figure.map(|figure| figure.value);
    let level = |reading: &Reading| reading.level().map(spurline_units::Dbm::get);
    json!({
        "number": was.ordinal,
        "from": from,
        "outcome": [was.outcome, now.outcome],
        "value": [figure(was), figure(now)],
        "level_dbm": [level(was), level(now)],
        "limits": [limits(was), limits(now)],
        "reason": now.reason.as_ref().map(|reason| &reason.text),
    })
}
