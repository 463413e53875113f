//! What a reader wants to know first.

use std::cmp::Ordering;

use spurline_record::{Decision, Limit, Outcome, Quantity, Reading};

use super::group::Row;
use crate::figures;
use crate::key::{self, KeyDown, Total};
use crate::view::RunView;

/// The head of the page.
pub(crate) struct Summary<'a> {
    pub(crate) verdict: Verdict,
    pub(crate) counts: Vec<Count>,
    /// The worst of each kind of reading under each published text, the worst of all first.
    pub(crate) kinds: Vec<Kind<'a>>,
    /// What does not comply, the gravest first.
    pub(crate) concerns: Vec<Row<'a>>,
    pub(crate) smallest: Option<Row<'a>>,
    pub(crate) keyed: Total,
    pub(crate) decision: Vec<[String; 2]>,
    pub(crate) rule_caveat: &'static str,
}

/// What the run came to.
pub(crate) struct Verdict {
    pub(crate) word: String,
    pub(crate) sign: &'static str,
    pub(crate) class: &'static str,
    pub(crate) meaning: &'static str,
}

/// All readings of one kind under one published text.
pub(crate) struct Kind<'a> {
    pub(crate) what: String,
    pub(crate) count: usize,
    pub(crate) worst: Row<'a>,
}

/// How many readings have an outcome.
pub(crate) struct Count {
    pub(crate) word: &'static str,
    pub(crate) sign: &'static str,
    pub(crate) class: &'static str,
    pub(crate) number: usize,
}

impl<'a> Summary<'a> {
    pub(crate) fn of(run: &RunView<'a>, keyed: &[KeyDown<'_>]) -> Self {
        Self {
            verdict: verdict(run),
            counts: Outcome::ALL
                .map(|outcome| count(outcome, run.count(outcome)))
                .into_iter()
                .filter(|count| count.number > 0)
                .collect(),
            kinds: kinds(run),
            concerns: concerns(run),
            smallest: smallest(run),
            keyed: key::total(keyed),
            decision: decision(run),
            rule_caveat: figures::rule_caveat(&run.header.rule_status),
        }
    }
}

/// A run that did not go to its end has no clean verdict, unless something exceeds.
fn verdict(run: &RunView<'_>) -> Verdict {
    let without_limit = run.count(Outcome::NoLimit);
    let meaning = figures::meaning(run.outcome, without_limit, run.state);
    let (sign, class) = run.outcome_look();
    Verdict { word: run.outcome_word(), sign, class, meaning }
}

fn count(outcome: Outcome, number: usize) -> Count {
    Count {
        word: Outcome::word(outcome),
        sign: figures::sign(outcome),
        class: figures::class(outcome),
        number,
    }
}

fn kinds<'a>(run: &RunView<'a>) -> Vec<Kind<'a>> {
    let mut kinds: Vec<((Quantity, &str), Vec<&Reading>)> = Vec::new();
    for reading in run.readings {
        let kind = (reading.quantity, reading.derivation.source.as_str());
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, members)) => members.push(reading),
            None => kinds.push((kind, vec![reading])),
        }
    }
    let told = kinds.into_iter().filter_map(|((quantity, source), members)| {
        let worst = members.iter().min_by(|one, other| worst_first(one, other))?;
        let source = if source.is_empty() { "none stated" } else { source };
        let what = format!("{}: {source}", quantity.title());
        Some(Kind { what, count: members.len(), worst: Row::of(worst) })
    });
    let mut told: Vec<Kind<'a>> = told.collect();
    told.sort_by(|one, other| worst_first(one.worst.reading, other.worst.reading));
    told
}

fn concerns<'a>(run: &RunView<'a>) -> Vec<Row<'a>> {
    let gravest = [Outcome::Exceeds, Outcome::Invalid, Outcome::Undecided];
    let mut concerns: Vec<&Reading> =
        run.readings.iter().filter(|reading| gravest.contains(&reading.outcome)).collect();
    concerns.sort_by(|one, other| worst_first(one, other));
    concerns.into_iter().map(Row::of).collect()
}

/// The gravest outcome first, of the same outcome the least margin, and then as they were read. Margins in other units than
/// dB stand behind those in dB: hertz and decibels are not held against each other.
pub(crate) fn worst_first(one: &Reading, other: &Reading) -> Ordering {
    let margin = |reading: &Reading| {
        let margin = reading.margin.map(|margin| (margin.db().is_none(), margin.value));
        margin.unwrap_or((true, f64::INFINITY))
    };
    let ((one_unit, one_margin), (other_unit, other_margin)) = (margin(one), margin(other));
    let by_outcome = other.outcome.cmp(&one.outcome);
    let by_margin = one_unit.cmp(&other_unit).then(one_margin.total_cmp(&other_margin));
    by_outcome.then(by_margin).then(one.ordinal.cmp(&other.ordinal))
}

fn smallest<'a>(run: &RunView<'a>) -> Option<Row<'a>> {
    run.readings
        .iter()
        .filter_map(|reading| Some((reading.margin?.db()?.get(), reading)))
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .map(|(_, reading)| Row::of(reading))
}

/// The decision rule as arithmetic, for the kinds of limit and level that this run has.
fn decision(run: &RunView<'_>) -> Vec<[String; 2]> {
    let bounds = run.readings.iter().any(|reading| reading.figure.is_some_and(|figure| figure.bound));
    let ranged = |reading: &Reading| {
        reading.figure.is_some_and(|figure| figure.bound) && reading.proof.lowest.is_some()
    };
    let ranges = run.readings.iter().any(ranged);
    let windows = run.readings.iter().any(|reading| matches!(reading.limit, Some(Limit::Window { .. })));
    let [upper, window, bound, range] = match run.header.decision {
        Decision::GuardBand => [
            "complies: level + U <= limit; exceeds: level - U > limit; between: undecided",
            "complies: low + U <= level <= high - U; exceeds: level - U > high or level + U < low; between: undecided",
            "complies: bound + U <= limit; otherwise: undecided",
            "exceeds: least that it can be - U > limit",
        ],
        Decision::Simple => [
            "complies: level <= limit; exceeds: level > limit",
            "complies: low <= level <= high; exceeds: level > high or level < low",
            "complies: bound <= limit; otherwise: undecided",
            "exceeds: least that it can be > limit",
        ],
    };
    let kinds = [
        ("limit", true, upper),
        ("window", windows, window),
        ("upper bound", bounds, bound),
        ("bound with a least", ranges, range),
    ];
    let band = run.header.guard_band();
    let kinds = kinds.into_iter().filter(|(_, there, _)| *there);
    kinds.map(|(kind, _, rule)| [kind.to_owned(), rule.replace(" U", &format!(" {band}"))]).collect()
}
